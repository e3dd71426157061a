"""Lines of the reading's ridges, placed by the picture's own edges where there are any.

Where an edge follows a ridge, its points *are* the line, with their corners and to a fraction
of a pixel; where none does, the ridge is, as a fair curve that runs smoothly from one edge to
the next. Other edges beside it, nearer than two lines are drawn apart, are dropped: the other
side of a rim, or fur along an outline. All other edges stay as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from worker.picture.outline.chains import Chains, chains_of
from worker.picture.outline.contour_ridges import ridge_lines
from worker.picture.outline.edge_following import Beside, edges_beside, followed
from worker.picture.outline.edge_points import CONTOUR, Points
from worker.picture.outline.gaussian import Floats
from worker.picture.outline.linking import Ids
from worker.picture.outline.placed_reading import PlacedReading
from worker.picture.outline.ridge_places import Flags, Ints, Places, places_along
from worker.picture.outline.sampled_picture import SIGMA_PX

#: Two lines nearer than this are drawn as one: a pencil of half a millimetre along each leaves
#: no paper between them, and a draughtsman draws a rim, a twig or a whisker once (common
#: practice).
APART_MM = 1.2
#: Nor are lines told apart that are nearer than so many widths of the smoothing.
_APART_SIGMA = 2.5
#: How far an edge may be from its ridge, and over which length it must follow it at least, in
#: pixels of the map.
_REACH_MAP_PX, _FOLLOWS_MAP_PX = 1.6, 4.0
#: Holes in an edge along its ridge that are no holes, in places; and steps along the edge from
#: one place to the next that are no detour.
_HOLE, _DETOUR = 3, 8
#: An edge bends away where it ends: where a line goes over from one to another, or to its ridge,
#: so much of either is drawn anew, in pixels of the map.
_OVER_MAP_PX = 1.5
#: How soon a line returns from an edge to its ridge, in pixels of the map.
_RETURN_MAP_PX = 4.0


@dataclass(frozen=True, kw_only=True, eq=False)
class ContourLines:
    """All points of lines, those of contours last.

    Attributes:
        points: Of edges, and after them of contours.
        link: (points, 2): neighbours of each.
        ridge: Whether a point is of a contour.
        at_x, at_y: Where the reading says most of each point: on the ridge that it follows.
    """

    points: Points
    link: Ids
    ridge: Flags
    at_x: Floats
    at_y: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class _Followed:
    """What is known of each place.

    Attributes:
        edge: The edge that is the line, or -1.
        rank: The edge's point, as a place in the order of all edges, or -1.
        offset: How far the line is from the ridge, in pixels of the grid.
    """

    edge: Ints
    rank: Ints
    offset: Floats


def with_contours(
    points: Points, link: Ids, reading: PlacedReading, shape: tuple[int, int], pitch_mm: float
) -> ContourLines:
    """Points of edges with those of contours.

    Args:
        points: Of edges and thin lines, by key.
        link: Their neighbours.
        reading: Says where contours are.
        shape: Rows and columns of the picture's grid.
        pitch_mm: Its pixel.
    """
    places = places_along(ridge_lines(reading.reading.contour), reading, shape)
    if not len(places):
        return _alone(points, link)
    chains = chains_of(link)
    reach = _REACH_MAP_PX * reading.map_px
    apart = max(APART_MM / pitch_mm, _APART_SIGMA * SIGMA_PX)
    beside = edges_beside(places, points, shape, reach + apart)
    best = followed(
        points,
        chains,
        beside.taken(np.abs(beside.offset) <= reach),
        places.line,
        reach_px=reach,
        least=_FOLLOWS_MAP_PX * reading.map_px,
    )
    known = _settled(_known(points, chains, best, len(places)), places, reading.map_px)
    known = _between_edges(known, places, reading.map_px)
    near = np.abs(beside.offset - known.offset[beside.place]) < apart
    left = np.ones(len(points), bool)
    left[beside.point[near]] = False
    contours, place = _written(points, chains, places, known, shape)
    left[chains.order[known.rank[known.rank >= 0]]] = False
    return _joined(points, link, left, contours, places, place)


def _alone(points: Points, link: Ids) -> ContourLines:
    """Edges alone."""
    ridge = np.zeros(len(points), bool)
    return ContourLines(points=points, link=link, ridge=ridge, at_x=points.x, at_y=points.y)


def _known(points: Points, chains: Chains, best: Beside, count: int) -> _Followed:
    ranks = np.full(len(points), -1, np.int64)
    # Of a ring's first point, which is its last one too, the first rank counts.
    ranks[chains.order[::-1]] = np.arange(len(chains.order))[::-1]
    edge, rank = np.full(count, -1, np.int64), np.full(count, -1, np.int64)
    offset = np.zeros(count, np.float32)
    rank[best.place] = ranks[best.point]
    edge[best.place] = chains.owner[ranks[best.point]]
    offset[best.place] = best.offset
    return _Followed(edge=edge, rank=rank, offset=offset)


def _settled(known: _Followed, places: Places, map_px: float) -> _Followed:
    """Without edges that are soon left, and without jumps from edge to edge."""
    edge = _closed(known, places)
    run = _runs(edge, known.rank, places.line)
    short = np.bincount(run)[run] < max(round(_FOLLOWS_MAP_PX * map_px / 2), 3)
    edge = np.where(short, -1, edge)
    over = round(_OVER_MAP_PX * map_px)
    change = np.flatnonzero((run[1:] != run[:-1]) & (places.line[1:] == places.line[:-1]))
    freed = (change[:, None] + np.arange(1 - over, over + 1)).ravel()
    edge[np.clip(freed, 0, len(edge) - 1)] = -1
    rank = np.where(edge >= 0, known.rank, -1)
    # A stretch begins and ends at a point of its edge.
    run = _runs(edge, rank, places.line)
    begin, end = _reached(rank >= 0, run), _reached((rank >= 0)[::-1], run[::-1])[::-1]
    edge = np.where(begin & end, edge, -1)
    return _Followed(edge=edge, rank=np.where(edge >= 0, rank, -1), offset=known.offset)


def _reached(flags: Flags, run: Ints) -> Flags:
    """Whether a flag is set here or before, in the same run."""
    last = np.maximum.accumulate(np.where(flags, np.arange(len(flags)), -1))
    return np.asarray((last >= 0) & (run[last] == run))


def _closed(known: _Followed, places: Places) -> Ints:
    """The edge of each place, also where a few places on either side have the same one."""
    edge, found = known.edge, known.edge.copy()
    backs = [places.neighbours(reach) for reach in range(1, _HOLE + 1)]
    for before, _ in backs:
        for _, after in backs:
            same = (found < 0) & (edge[before] >= 0) & (edge[before] == edge[after])
            found[same] = edge[before][same]
    return found


def _runs(edge: Ints, rank: Ints, line: Ints) -> Ints:
    """Numbers stretches of places whose line is one edge, point after point, or none."""
    new = (np.diff(edge, prepend=-2) != 0) | (np.diff(line, prepend=-1) != 0)
    at = np.flatnonzero(rank >= 0)
    far = np.flatnonzero(np.abs(np.diff(rank[at])) > _DETOUR) + 1
    new[at[far]] = True
    return np.cumsum(new) - 1


def _between_edges(known: _Followed, places: Places, map_px: float) -> _Followed:
    """With offsets where no edge is: from one edge to the next, or back to the ridge."""
    at, held = np.arange(len(places)), known.rank >= 0
    back, ahead = _nearest(held, places.line)
    far_back = np.where(back >= 0, at - back, 10**6).astype(np.float64)
    far_ahead = np.where(ahead >= 0, ahead - at, 10**6).astype(np.float64)
    offset = known.offset
    between = (offset[back] * far_ahead + offset[ahead] * far_back) / np.maximum(
        far_back + far_ahead, 1
    )
    fade = np.clip(1 - np.minimum(far_back, far_ahead) / (_RETURN_MAP_PX * map_px), 0, 1)
    fade = fade * fade * (3 - 2 * fade)
    return _Followed(
        edge=known.edge,
        rank=known.rank,
        offset=np.where(held, offset, between * fade).astype(np.float32),
    )


def _nearest(held: Flags, line: Ints) -> tuple[Ints, Ints]:
    """The nearest places before and after each on its line that an edge holds, or -1."""
    at, most = np.arange(len(held)), len(held) - 1
    back = np.maximum.accumulate(np.where(held, at, -1))
    ahead = np.minimum.accumulate(np.where(held, at, most + 1)[::-1])[::-1]
    back = np.where((back >= 0) & (line[back] == line), back, -1)
    ahead = np.where((ahead <= most) & (line[np.minimum(ahead, most)] == line), ahead, -1)
    return back, ahead


def _written(
    points: Points, chains: Chains, places: Places, known: _Followed, shape: tuple[int, int]
) -> tuple[Points, Ints]:
    """The points of contours in order, and the place that each belongs to."""
    run = _runs(known.edge, known.rank, places.line)
    starts = np.flatnonzero(np.diff(run, prepend=-1))
    ends = np.append(starts[1:], len(places)) - 1
    held = known.edge[starts] >= 0
    low, high = known.rank[starts], known.rank[ends]
    counts = np.where(held, np.abs(high - low), ends - starts) + 1
    owner = np.repeat(np.arange(len(starts)), counts)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = step / np.maximum(counts - 1, 1)[owner]
    place = starts[owner] + np.rint(share * (ends - starts)[owner]).astype(np.int64)
    own = _as_points(places, known.offset, shape)
    rank = low[owner] + np.sign(high - low)[owner] * step
    edge = points.taken(chains.order[np.where(held[owner], rank, 0)]) if len(points) else own
    both = {
        field.name: np.where(
            held[owner], getattr(edge, field.name), getattr(own, field.name)[place]
        )
        for field in fields(Points)
    }
    return Points(**both), place


def _as_points(places: Places, offset: Floats, shape: tuple[int, int]) -> Points:
    """Places as points that only the reading knows."""
    x, y = places.x + places.nx * offset, places.y + places.ny * offset
    row = np.clip(np.rint(y), 0, shape[0] - 1).astype(np.int32)
    column = np.clip(np.rint(x), 0, shape[1] - 1).astype(np.int32)
    nothing = np.zeros(len(places), np.float32)
    return Points(
        key=row * np.int32(shape[1]) + column,
        x=x,
        y=y,
        across_x=places.nx,
        across_y=places.ny,
        contrast=nothing,
        chroma=nothing,
        kind=np.full(len(places), CONTOUR, np.uint8),
    )


def _joined(  # noqa: PLR0913, PLR0917 - the parts of both kinds.
    points: Points, link: Ids, left: Flags, contours: Points, places: Places, place: Ints
) -> ContourLines:
    """Edges that are left, and after them contours, linked in order."""
    number = np.where(left, np.cumsum(left) - 1, -1).astype(np.int32)
    kept = np.where(link >= 0, number[link], np.int32(-1))[left]
    base, count, line = int(left.sum()), len(contours), places.line[place]
    mine = np.arange(base, base + count, dtype=np.int32)
    first = np.diff(line, prepend=-1) != 0
    last = np.diff(line, append=-1) != 0
    before, after = np.where(first, -1, mine - 1), np.where(last, -1, mine + 1)
    ring = last & places.closes[place]
    start = np.maximum.accumulate(np.where(first, mine, 0))
    after[ring] = start[ring]
    before[start[ring] - base] = mine[ring]
    edges = points.taken(left)
    return ContourLines(
        points=Points(
            **{
                field.name: np.concatenate(
                    (getattr(edges, field.name), getattr(contours, field.name))
                )
                for field in fields(Points)
            }
        ),
        link=np.concatenate((kept, np.stack((before, after), axis=1).astype(np.int32))),
        ridge=np.arange(base + count) >= base,
        at_x=np.concatenate((edges.x, places.x[place])),
        at_y=np.concatenate((edges.y, places.y[place])),
    )
