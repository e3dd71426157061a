"""What there is to see, and how often."""

from __future__ import annotations

from collections.abc import Callable

from studio import Studio

from solids.solids import Solids
from solids.subjects.figures import figure
from solids.subjects.outdoors import creature, flower, street, woods
from solids.subjects.people import bust, hand
from solids.subjects.table import drapery, heap, still_life
from solids.view import Camera

#: What there is to see, and how often.
ARRANGEMENTS: tuple[tuple[Callable[[Studio, Solids], Camera], float], ...] = (
    (still_life, 3.0),
    (heap, 2.0),
    (bust, 4.0),
    (figure, 2.0),
    (creature, 2.0),
    (hand, 1.5),
    (flower, 2.0),
    (street, 1.0),
    (drapery, 1.0),
    (woods, 1.5),
)
