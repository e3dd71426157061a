"""What the guide says, a module for each section, in the order in which work goes on.

`print`, `cut`, `join`, `check`; then `hinge`, `transfer_paper` and `trace`, or `face_down` for
mirrored packs, or `wall` for what no table takes; `begin` and `cautions`.
"""
