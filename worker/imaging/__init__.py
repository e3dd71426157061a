"""From a photo to what is printed of it: intake, master, detail map, pieces.

Data flows through the modules in this order: `kinds` tells what was sent, `opening` opens
it within budgets, `colour` brings it to sRGB and to grey, `master` keeps it in tiles,
`detail` counts its lines, `study` keeps what layout wants to know, `keeping` writes all of
that for one picture and `intake` for one photo; `square_up` makes a rectangle of four corners
in a master; `enlarge` then cuts pieces out of a master.
"""

from __future__ import annotations

from worker.imaging.enlarge import enlarge_piece, faint_picture
from worker.imaging.intake import TakenIn, take_in
from worker.imaging.master import Master
from worker.imaging.opening import Limits
from worker.imaging.square_up import square_up
from worker.imaging.study import load_study, save_study

__all__ = [
    "Limits",
    "Master",
    "TakenIn",
    "enlarge_piece",
    "faint_picture",
    "load_study",
    "save_study",
    "square_up",
    "take_in",
]
