"""The engine: a photo and a spec go in, a pack of sheets comes out.

Data flows through the rooms in this order: `spec` (the values that all rooms exchange),
`reference` (a photo becomes a master and a study), `layout` (the sheet plan, pure arithmetic),
`picture` (what is printed of a master), `pdf` and `pages` (how it is drawn), `make` (one pack
from end to end). `store` keeps files and the ledger; `jobs` is the process that makes packs for
the service. Nothing here imports `service` or `client`.
"""
