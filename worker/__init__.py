"""The making: a photo and a spec go in, a pack of sheets comes out.

Rooms, in the order in which data flows: `imaging` (photo to master, master to
pieces), `layout` (the sheet plan, pure arithmetic), `drawing` (pages),
`making` (one pack from end to end), `storage` and `ledger` (what is kept), `queue`
(who makes it, when). Nothing here imports `service` or `client`.
"""
