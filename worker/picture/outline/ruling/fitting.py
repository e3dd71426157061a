"""Which stretches of lines are straight within what is known of their places.

A line fits all of a stretch's places best (total least squares), those that are known well more
than others, and those that fray less, the further they are aside. Places of what is straight
wander to both sides of it, instead of bending to one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines

#: How often places are weighed anew by how far aside they are.
_REWEIGHED = 2


@dataclass(frozen=True, kw_only=True)
class Rule:
    """What is taken for straight.

    Attributes:
        shortest_mm: Shorter stretches stay as they are,
        shortest_part_mm: and parts of longer ways, which a gentle curve has as well.
        aside: How far places may be from the line, in parts of the stretch's length.
        bow: How far the stretch may bow to one side, as the height of the parabola that fits it.
        nearer: No place is further from the line than so many times as near as it is known,
        frayed: but for this share of them,
        furthest: which are no further than so many times.
    """

    shortest_mm: float
    shortest_part_mm: float
    aside: float
    bow: float
    nearer: float
    frayed: float
    furthest: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Stretches:
    """Stretches of lines that are straight.

    Attributes:
        begin, end: First and last place of each.
        middle, way: A place on its line, and the line's direction; (stretches, 2).
    """

    begin: Ints
    end: Ints
    middle: Floats
    way: Floats

    def __len__(self) -> int:
        """How many."""
        return len(self.begin)

    def taken(self, which: Flags | Ints) -> Stretches:
        """Some of them."""
        return Stretches(
            begin=self.begin[which],
            end=self.end[which],
            middle=self.middle[which],
            way=self.way[which],
        )

    def lengths_mm(self, lines: Polylines) -> Floats:
        """From end to end."""
        return np.asarray(np.hypot(*(lines.places[self.end] - lines.places[self.begin]).T))


def joined(parts: list[Stretches]) -> Stretches:
    """Those of all parts, in the order of the lines."""
    begin = np.concatenate([part.begin for part in parts])
    whole = Stretches(
        begin=begin,
        end=np.concatenate([part.end for part in parts]),
        middle=np.concatenate([part.middle for part in parts]),
        way=np.concatenate([part.way for part in parts]),
    )
    return whole.taken(np.argsort(begin, kind="stable"))


def fitted(
    lines: Polylines, ends: tuple[Ints, Ints], near: Floats, rule: Rule
) -> tuple[Floats, Floats, Flags, Ints]:
    """The line that fits each stretch, whether it is straight, and where it is furthest off.

    Args:
        lines: All of them.
        ends: First and last places of stretches.
        near: How near each place is known.
        rule: What is straight.
    """
    begin, end = ends
    counts = end - begin + 1
    heads = np.cumsum(counts) - counts
    owner = np.repeat(np.arange(len(begin)), counts)
    at = np.arange(len(owner)) + (begin - heads)[owner]
    places, near = lines.places.take(at, axis=0), near.take(at)
    known = near**-4
    middle, way = _best_lines(places, known, heads, owner)
    for _ in range(_REWEIGHED if rule.frayed else 0):
        # What is far aside counts less (Cauchy's weights).
        weight = known / (1 + (_aside_and_along(places, middle, way, owner)[0] / near) ** 2)
        middle, way = _best_lines(places, weight, heads, owner)
    aside, along = _aside_and_along(places, middle, way, owner)
    length = np.hypot(*(lines.places[end] - lines.places[begin]).T)
    most = np.minimum(rule.nearer * near, rule.aside * length.take(owner))
    over = np.abs(aside) / np.maximum(most, 1e-9)
    good = np.maximum.reduceat(over, heads) <= rule.furthest / rule.nearer
    good &= np.add.reduceat(over > 1, heads) <= rule.frayed * counts
    good &= _bow(aside, along, heads, length) <= rule.bow * length
    good &= length >= rule.shortest_mm
    # The first of the places that are furthest from the way between the ends.
    chord = lines.places[end] - lines.places[begin]
    off = np.abs(_aside_and_along(places, lines.places[begin], chord, owner)[0])
    furthest = np.flatnonzero(off >= np.maximum.reduceat(off, heads).take(owner))
    worst = at[furthest[np.searchsorted(owner.take(furthest), np.arange(len(begin)))]]
    return middle, way, good, np.clip(worst, begin + 1, np.maximum(end - 1, begin + 1))


def _aside_and_along(
    places: Floats, middle: Floats, way: Floats, owner: Ints
) -> tuple[Floats, Floats]:
    """How far places are from the lines of their owners, with the side, and how far along them."""
    (x, y), (way_x, way_y) = (places - middle.take(owner, axis=0)).T, way.take(owner, axis=0).T
    return y * way_x - x * way_y, x * way_x + y * way_y


def _bow(aside: Floats, along: Floats, heads: Ints, length: Floats) -> Floats:
    """The height of the parabola that fits what lies aside of each stretch's line."""
    counts = np.diff(np.append(heads, len(aside)))
    half = np.maximum(length / 2, 1e-9)
    square = (along / np.repeat(half, counts)) ** 2
    square -= np.repeat(np.add.reduceat(square, heads) / counts, counts)
    rise = np.add.reduceat(square * aside, heads)
    return np.abs(rise / np.maximum(np.add.reduceat(square * square, heads), 1e-9))


def _best_lines(places: Floats, weight: Floats, heads: Ints, owner: Ints) -> tuple[Floats, Floats]:
    """Middle and direction of the line that fits each stretch best (total least squares)."""
    whole = np.add.reduceat(weight, heads)[:, None]
    middle = np.add.reduceat(weight[:, None] * places, heads, axis=0) / whole
    x, y = (places - middle.take(owner, axis=0)).T
    xx, yy, xy = (
        np.add.reduceat(weight * one * two, heads) for one, two in ((x, x), (y, y), (x, y))
    )
    angle = np.arctan2(2 * xy, xx - yy) / 2
    return middle, np.stack((np.cos(angle), np.sin(angle)), axis=1)
