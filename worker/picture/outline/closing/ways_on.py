"""On which ways lines go on from their ends, and what they come to.

A way is followed over the reading's map. It counts where it comes to a drawn line, is likely
enough all along, and closes something: one that runs beside a drawn line, or from the end of a
line that does, only draws that twice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.closing.painted_lines import PaintedLines
from worker.picture.outline.closing.tracking import Tracks, tracked
from worker.picture.outline.contours.placed_reading import PlacedMaps
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.gaussian import Floats

#: An end points where its line does over so many pixels of the map. The last of them are drawn
#: anew where it goes on: lines turn where they end.
_BACK_PX, _ANEW_PX = 5.0, 1.5
#: A way is drawn if it is so likely in the mean, and so much more for each pixel; nowhere less
#: likely than the third; and no longer than so much of its line.
_LIKELY, _LIKELIER, _LEAST_LIKELY, _OF_LINE = 0.6, 0.02, 0.15, 0.8
#: A line of so many pixels and more goes on where it is less likely by this.
_LONG_PX, _LESS = 52.0, 0.1
#: So it does by this where it parts what the picture is of from what is behind, so far aside.
_BOUNDING_LESS, _ASIDE_PX = 0.3, 8.0
#: A way meets its own line only so far from where it started, beside its own length.
_OWN_PX = 8.0
#: It runs beside a line with more than half of what is more than so far from where it lands; and
#: its line does that is so near there, so far back from its end.
_LANDING_PX, _BESIDE_PX, _NEAR_PX, _BACK_FROM_PX, _BACK_TO_PX = 3, 2.0, 4.5, 8.0, 14.0
#: A line is met at its end so near to that, and by a way that comes so straight.
_AT_END_PX, _STRAIGHT = 4.0, 0.3
#: So near to its end a line is met there, from wherever a way comes: a corner.
_AT_TIP_PX = 1.5
#: Where a way that bounds the subject so surely goes on in a line, by this cosine over so many
#: pixels, it is of the same contour. What the line has beyond strays if it is no longer than so
#: many pixels, this part of the line and that part of the way.
_BOUNDING, _GOES_IN, _GOES_IN_PX = 0.5, 0.92, 5.0
_STRAYS_PX, _STRAYS, _OF_WAY = 10.0, 0.2, 0.5

_Ints = npt.NDArray[np.int64]
_Flags = npt.NDArray[np.bool_]
_Subject = Callable[[Floats, Floats], Floats]


@dataclass(frozen=True, kw_only=True, eq=False)
class WaysOn:
    """Ways from ends of lines.

    Attributes:
        end: The place that is an end.
        start: The place, a little further in, where the way leaves the line.
        met: The place that it comes to.
        near: The end that is near there, or -1.
        joins: Whether the way comes to that, so that both lines are one, without what that one has
            beyond the place that is met.
        likely: In the mean, 0 to 1.
        x, y: (ways, steps) in pixels of the grid.
        count: How many steps there are before what is met.
    """

    end: _Ints
    start: _Ints
    met: _Ints
    near: _Ints
    joins: _Flags
    likely: Floats
    x: Floats
    y: Floats
    count: _Ints

    def taken(self, which: _Flags | _Ints) -> WaysOn:
        """Some of them."""
        return WaysOn(**{name: getattr(self, name)[which] for name in self.__dataclass_fields__})

    def replaced(self) -> tuple[_Ints, _Ints]:
        """From and to which places lines give way: (ways, 2) the first places, and the last.

        That is at a way's end, and beyond what it meets if it joins that.
        """
        goes = self.joins & (self.near != self.met)
        inner = self.met + np.where(self.near > self.met, 1, -1)
        outer = np.stack((self.end, np.where(goes, self.near, self.end)), axis=1)
        inner = np.stack((self.start, np.where(goes, inner, self.start)), axis=1)
        return np.minimum(outer, inner), np.maximum(outer, inner)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Over:
    """What ways are over.

    Attributes:
        layer: The maps that they are followed over.
        subject: How likely places of the grid are of what the picture is of.
    """

    layer: PlacedMaps
    subject: _Subject

    def bounding(self, tracks: Tracks, counted: _Flags) -> Floats:
        """How surely ways part what the picture is of from what is behind it, in the mean."""
        dx, dy = np.gradient(tracks.x, axis=1), np.gradient(tracks.y, axis=1)
        far = np.maximum(np.hypot(dx, dy), 1e-6)[counted] / _ASIDE_PX
        across, down = -dy[counted] / far, dx[counted] / far
        x, y = tracks.x[counted], tracks.y[counted]
        one, two = (
            self.subject(*self.layer.to_grid(x + sign * across, y + sign * down))
            for sign in (-1, 1)
        )
        sums = np.bincount(np.nonzero(counted)[0], one - two, len(counted))
        return np.asarray(np.abs(sums) / np.maximum(counted.sum(axis=1), 1), np.float32)


def ways_on(
    layers: Sequence[PlacedMaps],
    lines: Sequence[PaintedLines],
    ends: Sequence[_Ints],
    subject: _Subject,
) -> list[WaysOn]:
    """The ways from ends of lines over layers of the reading that may be drawn, of each layer.

    Args:
        layers: Their maps.
        lines: All drawn lines in each of these.
        ends: Places that are ends, and lie there.
        subject: How likely places of the grid are of what the picture is of.
    """
    starts = [on.inwards(at, _ANEW_PX) for on, at in zip(lines, ends, strict=True)]
    ways = [
        (on.x[start], on.y[start], np.arctan2(*on.outwards(at, _BACK_PX)[::-1]))
        for on, at, start in zip(lines, ends, starts, strict=True)
    ]
    number = np.repeat(np.arange(len(ends)), [len(at) for at in ends])
    maps = [layer.maps.contour for layer in layers]
    tracks = tracked(maps, number, *(np.concatenate(each) for each in zip(*ways, strict=True)))
    return [
        _good(_Over(layer=layer, subject=subject), on, at, start, tracks.taken(number == which))
        for which, (layer, on, at, start) in enumerate(
            zip(layers, lines, ends, starts, strict=True)
        )
    ]


def _good(over: _Over, lines: PaintedLines, ends: _Ints, start: _Ints, tracks: Tracks) -> WaysOn:
    """Those of one layer that may be drawn."""
    step, met = _met(tracks, lines, start)
    counted = _numbers(tracks) <= step[:, None]
    counted[:, 0] = False
    likely = np.where(counted, tracks.likely, 0).sum(axis=1) / np.maximum(step, 1)
    long = lines.chains.counts[lines.chains.owner[ends]] > _LONG_PX * lines.px
    bounding = over.bounding(tracks, counted)
    less = _LESS * long + _BOUNDING_LESS * bounding
    good = (step > 0) & (likely > _LIKELY + _LIKELIER * step - less)
    good &= np.where(counted, tracks.likely, 1).min(axis=1) > _LEAST_LIKELY
    good &= step * lines.px < _OF_LINE * lines.chains.counts[lines.chains.owner[ends]]
    good &= lines.chains.counts[lines.chains.owner[ends]] > 4 * _ANEW_PX * lines.px
    tracks, start, ends = tracks.taken(good), start[good], ends[good]
    step, met, likely, bounding = step[good], met[good], likely[good], bounding[good]
    good = ~_beside(tracks, lines, step) & ~_from_beside(lines, ends, met)
    near, at_end = _at_ends(tracks, lines, step, met)
    stray, goes_in = _strays(tracks, lines, step, met)
    goes_in &= ~at_end & (near < 0) & (bounding > _BOUNDING)
    near, joins = np.where(goes_in, stray, near), at_end | goes_in
    at_tip = (near >= 0) & (np.abs(met - near) <= _AT_TIP_PX * lines.px)
    x, y = over.layer.to_grid(tracks.x[:, 1:], tracks.y[:, 1:])
    return WaysOn(
        end=ends,
        start=start,
        met=np.where(at_end | at_tip, near, met),
        near=near,
        joins=joins,
        likely=likely.astype(np.float32),
        x=x,
        y=y,
        count=np.maximum(step - 1, 0),
    ).taken(good)


def _numbers(tracks: Tracks) -> _Ints:
    return np.arange(tracks.x.shape[1])


def _met(tracks: Tracks, lines: PaintedLines, start: _Ints) -> tuple[_Ints, _Ints]:
    """At which step each way is first within a pixel of a line, or 0, and the place met there."""
    left, top = np.floor(tracks.x).astype(np.int64), np.floor(tracks.y).astype(np.int64)
    owner = lines.chains.owner
    around = (2 * _numbers(tracks) + _OWN_PX) * lines.px
    met = np.full(tracks.x.shape, -1, np.int64)
    for down, across in ((0, 0), (0, 1), (1, 0), (1, 1)):
        there = lines.at(left + across, top + down)
        own = owner[there] == owner[start][:, None]
        there[own & (np.abs(there - start[:, None]) < around)] = -1
        met = np.maximum(met, there)
    met[(_numbers(tracks) == 0) | (_numbers(tracks) > tracks.steps[:, None])] = -1
    first = np.argmax(met >= 0, axis=1)
    return first, met[np.arange(len(met)), first]


def _beside(tracks: Tracks, lines: PaintedLines, step: _Ints) -> _Flags:
    """Which ways run beside a line on the way to the one that they meet."""
    dx, dy = np.gradient(tracks.x, axis=1), np.gradient(tracks.y, axis=1)
    far = np.maximum(np.hypot(dx, dy), 1e-6)
    counted = (_numbers(tracks) > 1) & (_numbers(tracks) <= (step - _LANDING_PX)[:, None])
    beside = np.zeros(len(step), bool)
    for sign in (-1, 1):
        near = np.zeros(tracks.x.shape, bool)
        for aside in (_BESIDE_PX / 2, _BESIDE_PX):
            x = np.rint(tracks.x - sign * aside * dy / far).astype(np.int64)
            y = np.rint(tracks.y + sign * aside * dx / far).astype(np.int64)
            near |= lines.at(x, y) >= 0
        beside |= 2 * (near & counted).sum(axis=1) > counted.sum(axis=1)
    return np.asarray(beside & counted.any(axis=1))


def _from_beside(lines: PaintedLines, ends: _Ints, met: _Ints) -> _Flags:
    """Which ends are of lines that run beside the line that is met."""
    owner, back = (
        lines.chains.owner,
        np.stack([lines.inwards(ends, far) for far in np.arange(_BACK_FROM_PX, _BACK_TO_PX)]),
    )
    out_x, out_y = lines.outwards(ends, _BACK_TO_PX)
    beside = np.zeros(len(ends), bool)
    for sign in (-1, 1):
        near = np.zeros(back.shape, bool)
        for aside in np.arange(1.0, _NEAR_PX, 0.7):
            x = np.rint(lines.x[back] - sign * aside * out_y).astype(np.int64)
            y = np.rint(lines.y[back] + sign * aside * out_x).astype(np.int64)
            there = lines.at(x, y)
            near |= (there >= 0) & (owner[there] == owner[met])
        beside |= 2 * near.sum(axis=0) > len(back)
    return np.asarray(beside & (owner[ends] != owner[met]))


def _at_ends(tracks: Tracks, lines: PaintedLines, step: _Ints, met: _Ints) -> tuple[_Ints, _Flags]:
    """The end near what is met, or -1; and whether the way comes straight to it."""
    chains, owner = lines.chains, lines.chains.owner[met]
    end = _nearer_end(lines, met)
    out_x, out_y = lines.outwards(end, _BACK_PX)
    at, before = np.arange(len(step)), np.maximum(step - _LANDING_PX, 0)
    dx, dy = lines.x[end] - tracks.x[at, before], lines.y[end] - tracks.y[at, before]
    straight = -(dx * out_x + dy * out_y) / np.maximum(np.hypot(dx, dy), 1e-6)
    near = (np.abs(met - end) <= _AT_END_PX * lines.px) & ~chains.closed[owner]
    return np.where(near, end, -1), near & (straight > _STRAIGHT)


def _strays(tracks: Tracks, lines: PaintedLines, step: _Ints, met: _Ints) -> tuple[_Ints, _Flags]:
    """The end near what is met, and whether the way goes in the line away from a stray end."""
    chains, owner = lines.chains, lines.chains.owner[met]
    end = _nearer_end(lines, met)
    beyond, reach = np.abs(met - end), round(_GOES_IN_PX * lines.px)
    inner = np.clip(
        met + np.sign(met - end) * reach, chains.first[owner], chains.first[owner + 1] - 1
    )
    at = np.arange(len(step))
    before = np.maximum(step - round(_GOES_IN_PX), 0)
    way_x = tracks.x[at, step] - tracks.x[at, before]
    way_y = tracks.y[at, step] - tracks.y[at, before]
    line_x, line_y = lines.x[inner] - lines.x[met], lines.y[inner] - lines.y[met]
    far = np.maximum(np.hypot(way_x, way_y) * np.hypot(line_x, line_y), 1e-6)
    goes_in = way_x * line_x + way_y * line_y > _GOES_IN * far
    goes_in &= beyond <= _STRAYS_PX * lines.px
    goes_in &= beyond < np.minimum(_STRAYS * chains.counts[owner], _OF_WAY * step * lines.px)
    # What another line ends on stays.
    before = np.cumsum(np.append(0, _ended_on(lines.chains)))
    inwards = (end > met).astype(np.int64)
    goes_in &= before[end + inwards] == before[met + inwards]
    return end, np.asarray(goes_in & ~chains.closed[owner])


def _ended_on(chains: Chains) -> _Flags:
    """Places of lines that are ends of others as well."""
    ends = np.concatenate((chains.first[:-1][~chains.closed], chains.first[1:][~chains.closed] - 1))
    many = np.bincount(chains.order[ends], minlength=int(chains.order.max(initial=0)) + 1)
    many = many[chains.order]
    many[ends] -= 1
    return many > 0


def _nearer_end(lines: PaintedLines, place: _Ints) -> _Ints:
    """The end of its line that is nearer to each place."""
    owner = lines.chains.owner[place]
    first, last = lines.chains.first[owner], lines.chains.first[owner + 1] - 1
    return np.where(last - place < place - first, last, first)
