"""Lines of the reading's ridges, placed by the picture's own edges where there are any.

Where an edge follows a ridge, its points *are* the line, with their corners and to a fraction
of a pixel; where none does, the ridge is, as a fair curve that runs smoothly from one edge to
the next. Other edges beside it, nearer than two lines are drawn apart, are dropped: the other
side of a rim, or fur along an outline. All other edges stay as they are, and so do those of eyes
that are printed large enough: they show more of an eye than the coarse map does.
"""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass, fields
from functools import partial

import numpy as np

from worker.picture.outline.contours.contour_course import Course, course_of, nearest, runs
from worker.picture.outline.contours.contour_ridges import RidgeLines
from worker.picture.outline.contours.edge_following import (
    RULED_REACH,
    Beside,
    edges_beside,
    followed,
    reach_of,
    within_reach,
)
from worker.picture.outline.contours.feature_cover import places_replaced, points_replaced
from worker.picture.outline.contours.features.face_features import FaceFeatures
from worker.picture.outline.contours.layered_ridges import layered_ridges
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.contours.plain_forms import PlainForms
from worker.picture.outline.contours.ridge_places import Doubles, Flags, Ints, Places, places_along
from worker.picture.outline.contours.round_forms.forms import RoundForms
from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.edge_points import CONTOUR, Points
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.linking import Ids
from worker.picture.outline.points.sampled_picture import SIGMA_PX

#: Two lines nearer than this are drawn as one: a pencil of half a millimetre along each leaves
#: no paper between them, and a draughtsman draws a rim, a twig or a whisker once (common
#: practice).
APART_MM = 1.2
#: Nor are lines told apart that are nearer than so many widths of the smoothing.
_APART_SIGMA = 2.5
#: Places of one line are two lines if they are further apart along it than this many times that.
_FLAT_RING = 4.0
#: How far an edge may be from its ridge, and over which length it must follow it at least, in
#: pixels of the map.
_REACH_MAP_PX, _FOLLOWS_MAP_PX = 1.6, 4.0
#: A line ends where it is less likely than this part of the whole.
_FADING = 0.5
#: A ridge is between two edges where both have so many levels of contrast, over so many pixels
#: of the map before and after, nearly everywhere.
_CLEAR_LEVELS, _BETWEEN_MAP_PX, _BETWEEN = 20.0, 4.0, 0.85


@dataclass(frozen=True, kw_only=True, eq=False)
class ContourLines:
    """All points of lines, those of contours last.

    Attributes:
        points: Of edges, and after them of contours.
        link: (points, 2): neighbours of each.
        ridge: Whether a point is of a contour.
        at_x, at_y: Where the reading says most of each point: on the ridge that it follows.
        plain: Where edges alone say what is there.
    """

    points: Points
    link: Ids
    ridge: Flags
    at_x: Floats
    at_y: Floats
    plain: PlainForms


def with_contours(  # noqa: PLR0913 - edges, the reading, and where both lie.
    points: Points,
    link: Ids,
    reading: PlacedReading,
    shape: tuple[int, int],
    pitch_mm: float,
    *,
    plain: PlainForms,
    features: FaceFeatures | None = None,
    rounds: RoundForms | None = None,
    ridges: RidgeLines | None = None,
    pool: Executor | None = None,
) -> ContourLines:
    """Points of edges with those of contours.

    Args:
        points: Of edges and thin lines, by key.
        link: Their neighbours.
        reading: Says where contours are.
        shape: Rows and columns of the picture's grid.
        pitch_mm: Its pixel.
        plain: Where edges alone say what is there.
        features: Of faces, where no line is but theirs.
        rounds: Round forms elsewhere, in which no line is but theirs.
        ridges: Those of the reading's contours, if they are known.
        pool: Where some of it is done, if given; the result does not depend on it.
    """
    features, rounds = features or FaceFeatures(), rounds or RoundForms()
    ridges = ridges or layered_ridges(reading, "contour")
    find_places = partial(_left_places, ridges, (features, rounds), reading, shape, plain)
    found = pool.submit(find_places) if pool else None
    replaced = points_replaced(features, rounds, reading, points, link)
    points, link = _without(points, link, replaced)
    chained = pool.submit(_chained, points, link, pitch_mm) if pool else None
    places = found.result() if found else find_places()
    if not len(places) or not (link >= 0).any():
        alone = _as_points(places, np.zeros(len(places), np.float32), shape)
        return _joined(points, link, alone, places, plain)
    apart = max(APART_MM / pitch_mm, _APART_SIGMA * SIGMA_PX)
    map_px = reading.map_px(places.x, places.y)
    reach = np.maximum(_REACH_MAP_PX * map_px, apart / 2)
    beside = edges_beside(places, points, shape, RULED_REACH * float(reach.max()) + apart, pool)
    chains, further = chained.result() if chained else _chained(points, link, pitch_mm)
    beside = beside.taken(np.abs(beside.offset) <= RULED_REACH * reach[beside.place] + apart)
    best = followed(
        points,
        chains,
        within_reach(beside, reach, further),
        places.line,
        reach_px=reach,
        least=_FOLLOWS_MAP_PX * map_px,
    )
    course = course_of(points, chains, best, places, map_px)
    doubled = _between_two(points, beside, course, places, map_px)
    doubled |= _beside_another(places, course, shape, apart, pool)
    doubled |= _fading(reading, places) & (course.edge < 0)
    doubled |= _tails(points.thin[chains.order], course, places, 2 * apart)
    near = np.abs(beside.offset - course.offset[beside.place]) < apart
    left = np.ones(len(points), bool)
    left[beside.point[near & ~doubled[beside.place]]] = False
    places, course = places.taken(~doubled), course.taken(~doubled)
    course = course.trimmed(places)
    left[chains.order[course.rank[course.rank >= 0]]] = False
    contours, place = _written(points, chains, places, course, shape)
    points, link = _without(points, link, ~left)
    return _joined(points, link, contours, places.taken(place), plain)


def _left_places(
    ridges: RidgeLines,
    forms: tuple[FaceFeatures, RoundForms],
    reading: PlacedReading,
    shape: tuple[int, int],
    plain: PlainForms,
) -> Places:
    """Places of ridges that no feature of a face, round form or plain form replaces."""
    places = places_along(ridges, shape)
    places = places.taken(~places_replaced(*forms, reading, places))
    return places.taken(~plain.within(places.x, places.y))


def _chained(points: Points, link: Ids, pitch_mm: float) -> tuple[Chains, Floats]:
    """The edges, and how far each of their points reaches."""
    chains = chains_of(link)
    return chains, reach_of(points, chains, pitch_mm)


def _without(points: Points, link: Ids, which: Flags) -> tuple[Points, Ids]:
    """Points without some of them, and what still links them."""
    if not which.any():
        return points, link
    left = np.flatnonzero(~which)
    # The last one is what -1 stands for.
    number = np.full(len(which) + 1, -1, np.int32)
    number[left] = np.arange(len(left), dtype=np.int32)
    return points.taken(left), number.take(link.take(left, axis=0))


def _between_two(
    points: Points, beside: Beside, course: Course, places: Places, map_px: Doubles
) -> Flags:
    """Places of ridges in the middle between two edges that are drawn both: a bar's.

    The map has one band for both, and its ridge is no line.
    """
    clear = points.total[beside.point] > _CLEAR_LEVELS
    left, right = (
        np.bincount(beside.place[clear & (sign * beside.offset > 0)], minlength=len(places)) > 0
        for sign in (1, -1)
    )
    between = left & right & (course.edge < 0)
    near = np.maximum(np.rint(_BETWEEN_MAP_PX * map_px).astype(np.int64), 1)
    at, (first, last), (before, after) = (
        np.arange(len(places)),
        places.ends,
        places.neighbours(near),
    )
    sums = np.concatenate(([0], np.cumsum(between)))
    # Beyond its ends a line goes on as it ends.
    many = sums[after + 1] - sums[before]
    many += (near - (at - before)) * between[first] + (near - (after - at)) * between[last]
    return np.asarray((course.edge < 0) & (many > _BETWEEN * (2 * near + 1)))


def _beside_another(
    places: Places,
    course: Course,
    shape: tuple[int, int],
    apart: float,
    pool: Executor | None,
) -> Flags:
    """Places whose line runs beside a longer one, nearer than two lines are drawn apart.

    So does the first half of a flat ring, which a map has around a stroke that is wide to it.
    """
    points = _as_points(places, course.offset, shape)
    length = np.bincount(places.line)[places.line]
    order = np.lexsort((np.arange(len(places)), length))
    # Points are painted from short to long lines, so that the longest is seen.
    rank = np.empty(len(places), np.int64)
    rank[order] = np.arange(len(places))
    moved = Places(
        x=points.x,
        y=points.y,
        nx=places.nx,
        ny=places.ny,
        line=places.line,
        closes=places.closes,
    )
    beside = edges_beside(moved, points.taken(order), shape, apart, pool)
    other = order[beside.point]
    far = (places.line[other] != places.line[beside.place]) | (
        _along(places, other, beside.place) > _FLAT_RING * apart
    )
    found = np.zeros(len(places), bool)
    found[beside.place[far & (rank[other] > rank[beside.place])]] = True
    return found


def _along(places: Places, one: Ints, two: Ints) -> Ints:
    """How many places are between two of one line, the shorter way round a ring."""
    first, last = places.ends
    between = np.abs(one - two)
    other_way = np.where(places.closes[last[one]], last[one] - first[one] + 1 - between, between)
    return np.asarray(np.minimum(between, other_way))


def _fading(reading: PlacedReading, places: Places) -> Flags:
    """Places that are far less likely than the rest of their line: it has ended before."""
    likely = reading.sampled("contour", places.x, places.y)
    mean = np.bincount(places.line, likely) / np.maximum(np.bincount(places.line), 1)
    return np.asarray(likely < _FADING * mean[places.line])


def _tails(thin: Flags, course: Course, places: Places, longest: float) -> Flags:
    """Ends of ridges beyond a thin line, which knows where it ends: there a ridge turns round it.

    Args:
        thin: Whether each point of edges, in their order, is of a thin line.
        course: The course of contours.
        places: Along them.
        longest: Such an end has fewer places.
    """
    begin, end = places.ends
    back, ahead = nearest(course.rank >= 0, places.line)
    after = (back >= 0) & (ahead < 0) & thin[course.rank[back]] & (end - back < longest)
    before = (ahead >= 0) & (back < 0) & thin[course.rank[ahead]] & (ahead - begin < longest)
    return np.asarray(after | before)


def _written(
    points: Points, chains: Chains, places: Places, course: Course, shape: tuple[int, int]
) -> tuple[Points, Ints]:
    """The points of contours in order, and the place that each belongs to."""
    run = runs(course.edge, course.rank, places.line)
    starts = np.flatnonzero(np.diff(run, prepend=-1))
    ends = np.flatnonzero(np.diff(run, append=-1))
    held = course.edge[starts] >= 0
    low, high = course.rank[starts], course.rank[ends]
    counts = np.where(held, np.abs(high - low), ends - starts) + 1
    owner = np.repeat(np.arange(len(starts)), counts)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = step / np.maximum(counts - 1, 1)[owner]
    place = starts[owner] + np.rint(share * (ends - starts)[owner]).astype(np.int64)
    own = _as_points(places, course.offset, shape)
    rank = low[owner] + np.sign(high - low)[owner] * step
    both, on_edge = own.taken(place), np.flatnonzero(held[owner])
    edge = chains.order.take(rank.take(on_edge))
    for field in fields(Points):
        getattr(both, field.name)[on_edge] = getattr(points, field.name).take(edge)
    return both, place


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


def _joined(
    edges: Points, link: Ids, contours: Points, places: Places, plain: PlainForms
) -> ContourLines:
    """Edges, and after them contours, linked in order; `places` has the place of each."""
    base, count, line = len(edges), len(contours), places.line
    mine = np.arange(base, base + count, dtype=np.int32)
    first = np.diff(line, prepend=-1) != 0
    last = np.diff(line, append=-1) != 0
    before, after = np.where(first, -1, mine - 1), np.where(last, -1, mine + 1)
    ring = last & places.closes
    start = np.maximum.accumulate(np.where(first, mine, 0))
    after[ring] = start[ring]
    before[start[ring] - base] = mine[ring]
    both = {
        field.name: np.concatenate((getattr(edges, field.name), getattr(contours, field.name)))
        for field in fields(Points)
    }
    return ContourLines(
        points=Points(**both),
        link=np.concatenate((link, np.stack((before, after), axis=1).astype(np.int32))),
        ridge=np.arange(base + count) >= base,
        at_x=np.concatenate((edges.x, places.x)),
        at_y=np.concatenate((edges.y, places.y)),
        plain=plain,
    )
