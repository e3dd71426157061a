"""The sheet plan: pure arithmetic in millimetres.

In the order in which a plan comes about: `spec` (the job), `study` (the reference), `crop`,
`pages` (what a page carries), `quiet` (what a seam costs), `cuts` and `stagger` (the
optimum), `search` (which partition), `pieces`, `tape`, `checks`, `grid`, `ink`, `advice`, and
`planning`, which calls them all. `corners`, `homography` and `proportion` are for photos of
pictures that are squared up first. No files, no clock, no image library.
"""

from worker.layout.crop import resolve_crop
from worker.layout.planning import plan_sheets
from worker.spec.plan import Plan
from worker.spec.spec import Spec
from worker.spec.study import ReferenceStudy

__all__ = ["Plan", "ReferenceStudy", "Spec", "plan_sheets", "resolve_crop"]
