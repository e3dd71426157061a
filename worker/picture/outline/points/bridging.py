"""Join lines across short gaps, and extend them to the lines that they nearly meet.

Two ends are joined where they point at each other and each is the other's best. An end that
stops just short of another line is extended to it: smoothing opens a gap where three areas
meet, where a draughtsman draws none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import CONTOUR, EDGE, Points
from worker.picture.outline.points.joining import Joints, joined_ends
from worker.picture.outline.points.linking import Ids
from worker.picture.outline.points.nearness import pairs_within

#: Points from an end that its direction is taken from.
_BACK = 6
#: How well ends must point at each other and along the gap; more so across wide gaps, which
#: must also be short beside the lines; thin lines part at every crossing, edges do not.
_COSINE, _FAR_COSINE, _FAR_SHARE, _FAR_RIDGE_SHARE = 0.75, 0.94, 0.4, 1.5
#: Ends this near may lie beside each other's way; in pixels, and how far aside.
_BESIDE_PX, _BESIDE_COSINE = 2.0, -0.2
#: Those that lie so face each other the better.
_BESIDE_FACING = 0.85
#: The fainter of two lines has at least this part of the other's contrast.
_LEAST_ALIKE = 0.3
#: What there is of a line in a gap, as a share of what the fainter end has.
_SEEN_SHARE = 0.25
#: How straight a line must run on to the one that it meets.
_AHEAD_COSINE = 0.6

_Ints = npt.NDArray[np.int64]
_Floats = npt.NDArray[np.float32]
_Flags = npt.NDArray[np.bool_]
_Seen = Callable[[_Floats, _Floats], _Floats]


@dataclass(frozen=True, kw_only=True)
class Ends:
    """Ends of open lines: all starts, then all ends.

    Attributes:
        point: Their points.
        out_x, out_y: Unit vector outwards.
        size: Points of their lines.
        line: Their lines.
    """

    point: _Ints
    out_x: _Floats
    out_y: _Floats
    size: _Ints
    line: _Ints


@dataclass(frozen=True, kw_only=True)
class _Gaps:
    """Pairs of ends: how far apart, and how well one leaves for, enters and faces the other."""

    far: _Floats
    leave: _Floats
    enter: _Floats
    facing: _Floats


def bridge_gaps(  # noqa: PLR0913 - lines, and what may part them.
    points: Points,
    chains: Chains,
    link: Ids,
    *,
    reach_px: float,
    seen: _Seen | None = None,
    back: int = _BACK,
) -> Chains:
    """Lines joined across gaps, in the order of `chains_of`.

    Args:
        points: All of them.
        chains: Lines that are worth joining.
        link: What links points to lines.
        reach_px: The widest gap.
        seen: How much of a line there is at places (x, y): if given, gaps in which there is hardly
            any part lines.
        back: Points from an end that its direction is taken from.
    """
    joints = _joints(points, chains, reach_px=reach_px, seen=seen, back=back)
    return joined_ends(chains, joints, link)[0]


def joined_chains(  # noqa: PLR0913 - as for `bridge_gaps`.
    points: Points,
    chains: Chains,
    *,
    reach_px: float,
    group: _Ints | None = None,
    seen: _Seen | None = None,
    back: int = _BACK,
) -> tuple[Chains, _Ints]:
    """Lines joined across gaps, as by `bridge_gaps`, and for each of their places its line before.

    Args:
        points: All of them.
        chains: The lines, which may have points in common.
        reach_px: The widest gap.
        group: Of each place of the lines: if given, only ends of different groups are joined.
        seen: See there.
        back: See there.
    """
    joints = _joints(points, chains, reach_px=reach_px, group=group, seen=seen, back=back)
    own = Chains(order=np.arange(len(chains.order)), first=chains.first, closed=chains.closed)
    joined, at = joined_ends(own, joints, _in_order(chains))
    return (
        Chains(order=chains.order[at], first=joined.first, closed=joined.closed),
        chains.owner[at],
    )


def _joints(  # noqa: PLR0913 - as for `joined_chains`.
    points: Points,
    chains: Chains,
    *,
    reach_px: float,
    group: _Ints | None = None,
    seen: _Seen | None,
    back: int,
) -> Joints:
    """Ends that are joined: each is the other's best."""
    ends = ends_of(points, chains, back)
    one, two = pairs_within(points, ends.point, ends.point, reach_px)
    gaps = _gaps(points, ends, one, two)
    good = np.flatnonzero((one != two) & _alike(points, ends, one, two) & _facing(gaps, reach_px))
    good = good[_long_enough(points, gaps, ends, (one, two), reach_px)[good]]
    end = 2 * ends.line
    end[len(end) // 2 :] += 1
    if group is not None:
        of_end = group[chains.first[ends.line + end % 2] - end % 2]
        good = good[of_end[one[good]] != of_end[two[good]]]
    if seen is not None:
        good = good[_seen_between(points, seen, ends.point[one[good]], ends.point[two[good]])]
    cost = gaps.far * (4.0 - gaps.leave - gaps.enter - gaps.facing)
    best = _cheapest(len(ends.point), one[good], two[good], cost[good])
    mine = np.arange(len(best))
    pairs = np.flatnonzero((best > mine) & (best[best] == mine))
    return Joints(one=end[pairs], two=end[best[pairs]])


def _in_order(chains: Chains) -> Ids:
    """Links from place to place; a ring's last place, its first again, is left out."""
    begin, end = chains.first[:-1], chains.first[1:] - 1
    last, at = end - chains.closed, np.arange(len(chains.order))
    link = np.stack((at - 1, at + 1), axis=1).astype(np.int32)
    link[begin, 0] = np.where(chains.closed, last, -1)
    link[last, 1] = np.where(chains.closed, begin, -1)
    link[end[chains.closed]] = -1
    return link


def extend_to_meet(points: Points, chains: Chains, *, reach_px: float) -> Chains:
    """Lines with the points of others that they stop short of."""
    met = _meeting_points(points, chains, reach_px)
    added = met >= 0
    # Of two additions at one place, the end of a line comes before the start of the next.
    at = np.concatenate((chains.first[1:][added[:, 1]], chains.first[:-1][added[:, 0]]))
    more = np.concatenate((met[added[:, 1], 1], met[added[:, 0], 0]))
    counts = chains.counts + added.sum(axis=1)
    return Chains(
        order=np.insert(chains.order, at, more),
        first=np.concatenate(([0], np.cumsum(counts))),
        closed=chains.closed,
    )


def ends_of(points: Points, chains: Chains, back: int = _BACK) -> Ends:
    """The ends of open lines, and where they point, by so many points."""
    lines = np.flatnonzero(~chains.closed)
    first, last = chains.first[lines], chains.first[lines + 1] - 1
    steps = np.minimum(last - first, back)
    point = chains.order[np.concatenate((first, last))]
    inner = chains.order[np.concatenate((first + steps, last - steps))]
    out_x, out_y = points.x[point] - points.x[inner], points.y[point] - points.y[inner]
    far = np.maximum(np.hypot(out_x, out_y), np.float32(1e-6))
    return Ends(
        point=point,
        out_x=out_x / far,
        out_y=out_y / far,
        size=np.tile(chains.counts[lines], 2),
        line=np.tile(lines, 2),
    )


def _gaps(points: Points, ends: Ends, one: _Ints, two: _Ints) -> _Gaps:
    a, b = ends.point[one], ends.point[two]
    dx, dy = points.x[b] - points.x[a], points.y[b] - points.y[a]
    far = np.hypot(dx, dy) + np.float32(1e-6)
    return _Gaps(
        far=far,
        leave=(dx * ends.out_x[one] + dy * ends.out_y[one]) / far,
        enter=-(dx * ends.out_x[two] + dy * ends.out_y[two]) / far,
        facing=-(ends.out_x[one] * ends.out_x[two] + ends.out_y[one] * ends.out_y[two]),
    )


def _alike(points: Points, ends: Ends, one: _Ints, two: _Ints) -> _Flags:
    """Whether two lines may be one: as strong, and edges dark on the same side."""
    a, b = ends.point[one], ends.point[two]
    edges = (points.kind[a] == EDGE) & (points.kind[b] == EDGE)
    along = points.across_x[a] * points.across_x[b] + points.across_y[a] * points.across_y[b]
    one_total, two_total = points.total[a], points.total[b]
    low, high = np.minimum(one_total, two_total), np.maximum(one_total, two_total)
    # A place that only the reading knows has no contrast to compare.
    read = (points.kind[a] == CONTOUR) | (points.kind[b] == CONTOUR)
    return np.asarray((~edges | (along > 0)) & (read | (low > np.float32(_LEAST_ALIKE) * high)))


def _facing(gaps: _Gaps, reach_px: float) -> _Flags:
    """Whether two ends point at each other; those further apart the more so."""
    straight = np.minimum(gaps.leave, gaps.enter)
    needed = np.where(gaps.far < reach_px / 2, _COSINE, _FAR_COSINE)
    needed_along = np.where(gaps.far < _BESIDE_PX, _BESIDE_COSINE, needed)
    good = (gaps.facing > needed) & (straight > needed_along)
    return np.asarray(good & ((straight > needed) | (gaps.facing > _BESIDE_FACING)))


def _long_enough(
    points: Points, gaps: _Gaps, ends: Ends, pairs: tuple[_Ints, _Ints], reach_px: float
) -> _Flags:
    """Whether two lines are long enough to be joined across a wide gap."""
    one, two = pairs
    thin = points.thin[ends.point[one]] & points.thin[ends.point[two]]
    share = np.where(thin, _FAR_RIDGE_SHARE, _FAR_SHARE)
    most = share * np.minimum(ends.size[one], ends.size[two])
    return np.asarray((gaps.far < reach_px / 2) | (gaps.far < most))


def _seen_between(points: Points, seen: _Seen, a: _Ints, b: _Ints) -> _Flags:
    """Whether there is something of a line all along gaps, beside what both ends have."""

    def at(share: float) -> _Floats:
        x = points.x[a] + np.float32(share) * (points.x[b] - points.x[a])
        y = points.y[a] + np.float32(share) * (points.y[b] - points.y[a])
        return seen(x, y)

    least = np.minimum.reduce([at(share) for share in (0.25, 0.5, 0.75)])
    return np.asarray(least > np.float32(_SEEN_SHARE) * np.minimum(at(0), at(1)))


def _meeting_points(points: Points, chains: Chains, reach_px: float) -> _Ints:
    """For the start and the end of each line a point of another that it meets, or -1."""
    found = np.full((len(chains), 2), -1, np.int64)
    ends, owner = ends_of(points, chains), chains.owner
    one, two = pairs_within(points, ends.point, chains.order, reach_px)
    a, b = ends.point[one], chains.order[two]
    dx, dy = points.x[b] - points.x[a], points.y[b] - points.y[a]
    far = np.hypot(dx, dy) + np.float32(1e-6)
    ahead = (dx * ends.out_x[one] + dy * ends.out_y[one]) / far
    good = np.flatnonzero((owner[two] != ends.line[one]) & (ahead > _AHEAD_COSINE))
    best = _cheapest(len(ends.point), one[good], b[good], (far * (2.0 - ahead))[good])
    found[ends.line, np.repeat((0, 1), len(ends.line) // 2)] = best
    return found


def _cheapest(count: int, one: _Ints, two: _Ints, cost: _Floats) -> _Ints:
    """For each of so many the cheapest other, or -1."""
    order = np.lexsort((two, cost, one))
    lead = one[order]
    first = np.diff(lead, prepend=-1) > 0
    best = np.full(count, -1, np.int64)
    best[lead[first]] = two[order[first]]
    return best
