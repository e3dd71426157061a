"""Pages 2 and 3, the guide: what to do with this pack, step by step.

Each section has a module: `print`, `cut`, `join`, `check`; then `hinge`, `transfer_paper` and
`trace`, or `face_down` for mirrored packs, or `wall` for what no table takes; `begin` and
`cautions`. `contents` says which of them a pack has. `fitting` finds the type size in which
they fill the two pages, `page` draws them. The words are in `worker/words`.
"""
