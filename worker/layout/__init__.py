"""The sheet plan: pure arithmetic in millimetres, without files, clock or image library.

Data flows through it in this order: `page_area` says how much of a page can be printed, `crop`
which part of the reference is used, and `traced_line` how much line is in it; `seams` cuts the
picture into pieces; `pieces` gives them labels and places on pages; `tape` and `register_marks` say
where they are joined, and `measuring` what to cut together and what to measure; `grid`,
`ink_estimate`, `advice` and `offers` add squares, ink, warnings, and changes that save sheets or
spare faces. `planning` calls them all. `measuring.printer_readings` turns what was measured on a
test page into corrections for the spec.
"""

from worker.layout.crop.crop import resolve_crop
from worker.layout.planning import plan_sheets
from worker.spec.plan import Plan
from worker.spec.spec import Spec
from worker.spec.study import ReferenceStudy

__all__ = ["Plan", "ReferenceStudy", "Spec", "plan_sheets", "resolve_crop"]
