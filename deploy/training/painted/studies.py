"""Studies: one subject near by, before what is around it where it lives.

Each teaches what was read too faintly, or read where there is no line: fur over outlines, petals
over petals, trunks before foliage, light that is no form.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import torch
from fields import Frame, placed
from studio import Studio

from painted.blossoms import full_blossom, petals
from painted.foliage import leaves
from painted.forest import forest
from painted.furry import muzzled
from painted.heads import head
from painted.lights import glossy
from painted.sitting import sitting


@dataclass(frozen=True)
class _Study:
    """A subject, how often, from which to which size in pixels, and how it is placed.

    Attributes:
        leafy: How often leaves are behind it, not anything.
        turn: How far it is turned either way, in radians.
        about: Where its middle lies, as of `placed`.
    """

    paint: Callable[[Studio, Frame], None]
    often: float
    least_px: float
    most_px: float
    leafy: float = 0.5
    turn: float = 0.3
    about: tuple[float, float] = (0.25, 0.75)


_STUDIES = (
    _Study(muzzled, 2.5, 50, 260, leafy=0.4),
    _Study(sitting, 3.5, 35, 130, leafy=0.8),
    _Study(full_blossom, 2.2, 45, 220, leafy=0.8, turn=3.14),
    _Study(petals, 2.0, 80, 340, leafy=0.8, turn=3.14, about=(0.0, 1.0)),
    _Study(forest, 2.0, 90, 240, leafy=0.0, turn=0.08, about=(0.3, 0.7)),
    _Study(glossy, 1.0, 35, 150, leafy=0.1, turn=0.4),
    _Study(head, 2.0, 60, 200, leafy=0.3),
)
#: So often there is a second one of a kind beside the first, smaller; and several heads.
_SECOND, _GROUPS = 0.25, 0.4


def study(s: Studio, things: Callable[[Studio, int, float], None]) -> None:
    """Paint one.

    Args:
        s: The studio.
        things: Paints so many things of any kind, the first as large as its share says: 0 large,
            1 small.
    """
    chosen = torch.multinomial(torch.tensor([each.often for each in _STUDIES]), 1)
    one = _STUDIES[int(chosen)]
    if one.leafy:
        if torch.rand(1) < one.leafy:
            leaves(s, int(torch.randint(4, 16, (1,))))
        else:
            things(s, int(torch.randint(2, 8, (1,))), 0.3)
        if torch.rand(1) < 0.8:
            s.canvas.defocus(float(0.8 + 6 * torch.rand(1)))
        if one.paint is not head and torch.rand(1) < _SECOND:
            _put(s, one, 0.5)
        if one.paint is head and torch.rand(1) < _GROUPS:
            for _ in range(int(torch.randint(1, 4, (1,)))):
                _put(s, one, float(0.4 + 0.4 * torch.rand(1)))
    _put(s, one, 1.0)
    if torch.rand(1) < 0.08:
        things(s, 1, 0.9)


def _put(s: Studio, one: _Study, size: float) -> None:
    s.canvas.main, s.canvas.tells_main = True, 1.0
    unit = s.b.geometric(one.least_px * size, one.most_px * size)
    about = one.about if size == 1.0 else (-0.1, 1.1)
    one.paint(s, placed(s.b, unit, turn=one.turn, lean=0.15, about=about))
    s.canvas.main = False
