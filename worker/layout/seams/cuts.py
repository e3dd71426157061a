"""The cuts of one length that cost least, exactly.

A length is cut into pieces that each fit on a sheet. Positions are counted in whole millimetres
from the fullest layout: if every remaining piece were as long as its sheet allows, cut i would
be at `base_i`; moving it on by n ≥ 0 leaves n mm of slack to the pieces behind it. Slack can
only be used up, so n never rises from cut to cut, and dynamic programming over (pieces used, n)
finds the optimum of all such layouts (Bellman 1957); the tests compare it with brute force.
Pieces may be of two kinds (a row of upright sheets is higher than a row of turned ones); the
order of kinds is then part of the optimum.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

#: A cut through a protected area costs more than any line or eyes could.
CROSSING_COST = 1e8
#: A cut through an eye costs more than the line along any seam.
EYE_COST = 1e5
#: Of two equally quiet layouts the more even one is taken; too little to outweigh any line.
_EVEN_COST = 1e-6
_EPSILON = 1e-9


@dataclass(frozen=True, kw_only=True)
class LengthToCut:
    """A length, and the pieces that it is to be cut into.

    Attributes:
        length_mm: The whole length.
        capacities_mm: The longest piece of each kind, lap included.
        counts: How many pieces of each kind.
        shortest_mm: The least length of a piece.
        lap_mm: Every piece but the last reaches this far under the next.
    """

    length_mm: float
    capacities_mm: tuple[float, ...]
    counts: tuple[int, ...]
    shortest_mm: float
    lap_mm: float = 0.0

    @property
    def advances_mm(self) -> tuple[float, ...]:
        """How much of the length a full piece of each kind covers: its capacity less the lap."""
        return tuple(capacity - self.lap_mm for capacity in self.capacities_mm)

    @property
    def slack_mm(self) -> float:
        """By how much full pieces exceed the length; negative if they do not cover it."""
        full = sum(n * mm for n, mm in zip(self.counts, self.advances_mm, strict=True))
        return full - (self.length_mm - self.lap_mm)


@dataclass(frozen=True, kw_only=True)
class CutLayout:
    """Where a length is cut.

    Attributes:
        at_mm: Ascending, without the two ends.
        kinds: The kind of each piece, in order.
        cost: Sum of the costs of the cuts.
    """

    at_mm: tuple[float, ...]
    kinds: tuple[int, ...]
    cost: float


#: Costs of cuts at these places, in mm of line.
CutCost = Callable[[Floats], Floats]
_State = tuple[int, ...]


def quietest_cuts(
    length: LengthToCut, cost: CutCost, *, shift_share: float = 0.0
) -> CutLayout | None:
    """The cuts with the least cost, or None if pieces do not cover the length or no place is free.

    Where pieces are so tight that no layout in whole millimetres keeps all of them long
    enough, one layout is left: that in which all pieces give up the same share.

    Args:
        length: What is to be cut.
        cost: Cost of a cut at each of the given places; called once for each state.
        shift_share: Moves the even layout that ties fall back to by this share of the room
            that an even layout has, -1 to 1; so that neighbouring rows differ.
    """
    if length.slack_mm < -_EPSILON:
        return None
    return _CutTable(length, cost, shift_share).run() or _tight_cuts(length, cost)


def _tight_cuts(length: LengthToCut, cost: CutCost) -> CutLayout | None:
    """Every piece gives up the same share of what it can; None if a cut may not lie there."""
    kinds = tuple(kind for kind, count in enumerate(length.counts) for _ in range(count))
    advances = np.asarray([length.advances_mm[kind] for kind in kinds])
    rooms = advances - length.shortest_mm
    share = length.slack_mm / max(float(rooms.sum()), _EPSILON)
    at_mm = np.cumsum(advances - share * rooms)[:-1]
    total = float(cost(at_mm).sum())
    if math.isinf(total):
        return None
    return CutLayout(at_mm=tuple(at_mm.tolist()), kinds=kinds, cost=total)


class _CutTable:
    """The table of the dynamic programme: best cost for each state and slack left."""

    def __init__(self, length: LengthToCut, cost: CutCost, shift_share: float) -> None:
        self.length = length
        self.cost = cost
        self.shift_share = shift_share
        self.slack_mm = max(length.slack_mm, 0.0)
        self.places = np.arange(math.floor(self.slack_mm + _EPSILON) + 1, dtype=np.float64)
        self.best: dict[_State, Floats] = {}
        self.came: dict[_State, tuple[Indices, Indices]] = {}

    def run(self) -> CutLayout | None:
        """Fill the table state by state; the last piece ends where the length ends."""
        goal = self.length.counts
        for state in _states(goal):
            if state != goal:
                self._fill(state)
        return self._finish(goal)

    def _fill(self, state: _State) -> None:
        kinds = [kind for kind in range(len(state)) if state[kind]]
        offers = [self._arrive(_less(state, kind), kind) for kind in kinds]
        costs, slacks = offers[0]
        came = np.full(slacks.shape, kinds[0], dtype=np.intp)
        for kind, (others, from_slacks) in zip(kinds[1:], offers[1:], strict=True):
            cheaper = others < costs
            costs, slacks = np.where(cheaper, others, costs), np.where(cheaper, from_slacks, slacks)
            came[cheaper] = kind
        at_mm = self._base(state) + self.places
        self.best[state] = costs + self.cost(at_mm) + self._unevenness(state)
        self.came[state] = (came, slacks)

    def _arrive(self, before: _State, kind: int) -> tuple[Floats, Indices]:
        """Least cost of coming to each slack n through a piece of `kind`, and from which n."""
        room = self.length.advances_mm[kind] - self.length.shortest_mm
        if not any(before):
            # The first piece starts at 0, where all the slack is still there.
            used = self.slack_mm - self.places
            costs = np.where((used >= -_EPSILON) & (used <= room + _EPSILON), 0.0, np.inf)
            return costs, np.full(self.places.shape, -1, dtype=np.intp)
        return _window_least(self.best[before], math.floor(room + _EPSILON) + 1)

    def _finish(self, goal: _State) -> CutLayout | None:
        least, ending = math.inf, (-1, -1)
        for kind in range(len(goal)):
            if not goal[kind]:
                continue
            cost, slack = self._end(_less(goal, kind), kind)
            if cost < least:
                least, ending = cost, (kind, slack)
        return None if math.isinf(least) else self._trace(goal, ending, least)

    def _end(self, before: _State, kind: int) -> tuple[float, int]:
        # The last piece reaches under nothing: its own length is its capacity less n.
        room = self.length.capacities_mm[kind] - self.length.shortest_mm
        if not any(before):
            whole = self.length.capacities_mm[kind] - self.length.length_mm
            return (0.0, -1) if whole >= -_EPSILON else (math.inf, -1)
        costs = np.where(self.places <= room + _EPSILON, self.best[before], np.inf)
        slack = int(np.argmin(costs))
        return float(costs[slack]), slack

    def _trace(self, goal: _State, ending: tuple[int, int], least: float) -> CutLayout:
        kind, slack = ending
        kinds, at_mm, state = [kind], [], _less(goal, kind)
        while any(state):
            at_mm.append(float(self._base(state) + slack))
            kind, slack = (int(table[slack]) for table in self.came[state])
            kinds.append(kind)
            state = _less(state, kind)
        return CutLayout(at_mm=tuple(reversed(at_mm)), kinds=tuple(reversed(kinds)), cost=least)

    def _base(self, state: _State) -> float:
        left = zip(self.length.counts, state, self.length.advances_mm, strict=True)
        behind = sum((count - used) * mm for count, used, mm in left)
        return self.length.length_mm - self.length.lap_mm - behind

    def _unevenness(self, state: _State) -> Floats:
        total, used = sum(self.length.counts), sum(state)
        even = even_slack(self.slack_mm, total, used, self.shift_share)
        return _EVEN_COST * ((self.places - even) / max(self.slack_mm, 1.0)) ** 2


def even_slack(slack_mm: float, pieces: int, used: int, shift_share: float = 0.0) -> float:
    """The slack left behind cut number `used` of an even layout of so many pieces."""
    return slack_mm * (pieces - used + shift_share) / pieces


def even_cuts(
    length: LengthToCut, kinds: tuple[int, ...], *, shift_share: float = 0.0
) -> tuple[float, ...]:
    """The cuts of an even layout: every piece gives up the same share of the slack.

    The shift makes one end piece shorter; it goes no further than the shortest piece allows.
    """
    cuts = []
    reached = 0.0
    slack_mm = max(length.slack_mm, 0.0)
    shift_share = _allowed_shift(length, kinds, shift_share)
    total = sum(length.advances_mm[kind] for kind in kinds)
    for used, kind in enumerate(kinds[:-1], start=1):
        reached += length.advances_mm[kind]
        base = length.length_mm - length.lap_mm - (total - reached)
        cuts.append(base + even_slack(slack_mm, len(kinds), used, shift_share))
    return tuple(cuts)


def _allowed_shift(length: LengthToCut, kinds: tuple[int, ...], shift_share: float) -> float:
    """As much of the shift as leaves the end piece that pays for it long enough."""
    if length.slack_mm <= _EPSILON:
        return shift_share
    if shift_share > 0:
        room_mm = length.capacities_mm[kinds[-1]] - length.shortest_mm
    else:
        room_mm = length.advances_mm[kinds[0]] - length.shortest_mm
    most = max(0.0, len(kinds) * room_mm / length.slack_mm - 1.0)
    return max(-most, min(most, shift_share))


def _states(goal: _State) -> list[_State]:
    """All states from one piece to the goal, so that each comes after those it builds on."""
    grids = np.indices(tuple(count + 1 for count in goal)).reshape(len(goal), -1).T
    states = [tuple(int(value) for value in row) for row in grids]
    return sorted((state for state in states if any(state)), key=lambda state: (sum(state), state))


def _less(state: _State, kind: int) -> _State:
    return tuple(count - (index == kind) for index, count in enumerate(state))


def _window_least(values: Floats, window: int) -> tuple[Floats, Indices]:
    """For each index n the least of values[n : n + window], and where it is."""
    window = min(window, values.size)
    padded = np.concatenate([values, np.full(window - 1, np.inf)])
    views = np.lib.stride_tricks.sliding_window_view(padded, window)
    offsets = np.argmin(views, axis=1)
    places = np.arange(values.size) + offsets
    return padded[places], places
