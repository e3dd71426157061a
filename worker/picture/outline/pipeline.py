"""From the master to strokes: the steps of this package in order.

Pixels are processed tile by tile, on threads; only subpixel points are kept of a tile. A point
depends on its surroundings alone, which each tile includes. So the result depends neither on
tiles nor on threads. Points are then linked, ordered, bridged, selected and fitted for the whole
picture at once, so that no stroke ends at a tile or a seam.
"""

from __future__ import annotations

from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial, reduce

import numpy as np
import numpy.typing as npt

from worker.picture.outline.built.belonging import BuiltLines, belonging
from worker.picture.outline.built.continuing import continuing
from worker.picture.outline.built.fraying import fraying
from worker.picture.outline.built.reaching import reaching
from worker.picture.outline.certainty import known_mm
from worker.picture.outline.closing.closed_forms import closed_forms
from worker.picture.outline.closing.landing import landed, landings
from worker.picture.outline.closing.missing_outlines import missing_outlines
from worker.picture.outline.closing.passages import passed_over
from worker.picture.outline.contours.contour_lines import with_contours
from worker.picture.outline.contours.contour_ridges import RidgeLines
from worker.picture.outline.contours.evidence import evidence_of
from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.face_features import (
    seek_features,
    seek_landmarks,
)
from worker.picture.outline.contours.layered_ridges import layered_ridges
from worker.picture.outline.contours.lettering import with_lettering
from worker.picture.outline.contours.placed_reading import PlacedReading, placed_reading, unread
from worker.picture.outline.contours.plain_forms import plain_forms
from worker.picture.outline.contours.round_forms.round_forms import round_forms
from worker.picture.outline.curve_fitting import fit_curves
from worker.picture.outline.detected_points import Artefacts, DetectedPoints
from worker.picture.outline.fairing.fairing import faired
from worker.picture.outline.fairing.standing import standing
from worker.picture.outline.feature_lines.face_lines import as_lines, face_lines
from worker.picture.outline.feature_lines.hair_lines import missing_crowns, missing_hairlines
from worker.picture.outline.feature_lines.jaw_lines import jaw_weights, missing_jaws
from worker.picture.outline.feature_lines.nose_lines import with_shafts
from worker.picture.outline.feature_lines.rim_lines import without_rims
from worker.picture.outline.feature_lines.round_lines import round_lines
from worker.picture.outline.feature_lines.strays import head_strays, strand_weights, strays
from worker.picture.outline.frames.giving_way import framed
from worker.picture.outline.judging import CONTOURS, faintest, judged, plainly_read
from worker.picture.outline.leaving import parted
from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.colour_edges import chroma_gradients, with_chroma
from worker.picture.outline.points.edge_points import (
    CONTOUR,
    HALO_PX,
    Gradients,
    Points,
    gradients_of,
    joined,
    key_order,
    points_of,
    rows_and_columns,
)
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.jpeg_blocks import block_step, chroma_block_step
from worker.picture.outline.points.linking import Ids, Keys, best_neighbours, mutual
from worker.picture.outline.points.point_measures import (
    COARSER,
    SlopeMeans,
    cell_means,
    chroma_noise_of,
    measure_points,
    noise_of,
)
from worker.picture.outline.points.sampled_picture import (
    CHROMA_PX,
    Bytes,
    SampledPicture,
    sample_picture,
)
from worker.picture.outline.polylines import Polylines, joined_lines
from worker.picture.outline.prominence.figures import figures_of
from worker.picture.outline.prominence.focus import in_focus
from worker.picture.outline.prominence.prominence import prominence_of
from worker.picture.outline.rims.drawing import with_rims
from worker.picture.outline.ruling.segments import PictureEdges, in_mm
from worker.picture.outline.ruling.straightening import STRAIGHT, STRAIGHT_READ, ruled
from worker.picture.outline.scraps.gloss import inner_scraps
from worker.picture.outline.scraps.grounds import loose
from worker.picture.outline.selection import select_lines
from worker.picture.outline.shadow_edges import shadow_edges
from worker.picture.outline.tidying import without_texture
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Outline, Spec
from worker.spec.strokes import DASHED, FORM, INNER, PLAIN, Strokes

#: A multiple of the squares that texture is measured in. Smaller tiles have more surroundings
#: than picture, larger ones do not stay in a processor's cache.
TILE_PX = 512
#: The most points that are linked: on 60 × 40 cm some 90 m of line, more than anybody traces.
#: Grain and fine stripes give more, at hundreds of bytes each; then the faintest are dropped.
MOST_POINTS = 350_000
#: The same limit for one tile, in points per pixel.
DENSEST = 0.12

#: A line is one of a head or a figure if more than this of it lies there, is ruled if so much of it
#: is, and joins others with so many ends.
_IN_FIGURE, _RULED, _BOTH = 0.5, 0.5, 2

#: What bounds a mass differs from its other side by so many levels where contrast is as usual.
_MASS_LEVELS = np.float32(25.0)

#: Top, left, bottom, right, in pixels.
_Box = tuple[int, int, int, int]
#: Lines with the weight of each.
_Weighed = tuple[Polylines, npt.NDArray[np.uint8]]


@dataclass(frozen=True)
class _Tile:
    """What is kept of a tile; `top` and `left` are its first pixel."""

    top: int
    left: int
    points: Points
    wishes: Keys
    slope_means: Floats
    chroma_slope_means: Floats | None


def find_strokes(master: Master, spec: Spec, plan: Plan, *, threads: int = 2) -> Strokes:
    """Lines to trace, in mm of the picture as printed.

    Args:
        master: The reference.
        spec: The spec; `spec.tone.outline` says which lines are wanted.
        plan: Its plan.
        threads: How many tiles are processed at once; the result does not depend on it.
    """
    with ThreadPoolExecutor(threads) as pool:
        detected = _detected(master, spec, plan, pool)
        return strokes_of(detected, spec.tone.outline, pool)


def _detected(master: Master, spec: Spec, plan: Plan, pool: Executor) -> DetectedPoints:
    """All points of the picture, whose pixels are released then, but for those of faces."""
    step, chroma_step = block_step(master, pool), chroma_block_step(master, pool)
    sampled = sample_picture(master, spec, plan, pool)
    chroma_noise = pool.submit(chroma_noise_of, sampled)
    artefacts = Artefacts(
        noise=noise_of(sampled.grey),
        step=step,
        chroma_noise=chroma_noise.result(),
        chroma_step=chroma_step,
    )
    placed = placed_reading(master.reading, plan, sampled.grid, mirror=spec.print.mirror)
    return find_points(sampled, spec.tone.outline, artefacts, pool, placed=placed)


def strokes_of(detected: DetectedPoints, outline: Outline, pool: Executor | None = None) -> Strokes:
    """The selected lines as curves.

    Args:
        detected: All points.
        outline: Which lines are wanted.
        pool: Where they are judged, made fair and fitted, if given; the result does not depend
            on it.
    """
    detected, chains, weight = _drawn(detected, outline, pool)
    lines, stays, chains, weight, frames = _in_place(detected, chains, weight, outline.detail)
    points, grid = detected.points, detected.grid
    missing = pool.submit(_missing_bounds, detected, chains) if pool else None
    lines, kept = _made_fair(detected, lines, stays, chains, pool)
    chains, weight = chains.taken(kept), weight[kept]
    length_mm = chains.lengths(points.x, points.y) * np.float32(grid.pitch_mm)
    bounds = as_lines(missing.result() if missing else _missing_bounds(detected, chains), grid)
    shadows = DASHED if outline.shadows == "dashed" else INNER
    more = [
        (one.lines, one.weight) for one in (detected.features, detected.rounds) if one is not None
    ]
    more += [(bounds.lines, bounds.weight), frames]
    if detected.shadows is not None:
        kinds = np.full(len(detected.shadows.closed), shadows, np.uint8)
        more.append((detected.shadows, kinds))
    size_mm = detected.edges.size_mm if detected.edges else (np.inf, np.inf)
    whole = reduce(joined_lines, (others for others, _ in more), lines)
    more.append(missing_outlines(detected.placed, grid, whole, weight, size_mm))
    lines = joined_lines(whole, more[-1][0])
    weight = np.concatenate((weight, *(kinds for _, kinds in more)))
    length_mm = np.concatenate((length_mm, *(others.lengths_mm for others, _ in more)))
    return _as_curves(lines, weight, length_mm, grid.sigma_mm, pool)


def _drawn(
    detected: DetectedPoints, outline: Outline, pool: Executor | None
) -> tuple[DetectedPoints, Chains, npt.NDArray[np.uint8]]:
    """Which lines are drawn, closed where their forms are, and how heavy each is."""
    chains, weight = select_lines(detected, outline, pool)
    texture = max((outline.detail - CONTOURS) / (1 - CONTOURS), 0.0)
    if detected.beside is not None:
        face_px = detected.evidence.face_px
        kept = ~strays(detected.points, chains, detected.beside, face_px, texture=texture)
        chains, weight = chains.taken(kept), weight[kept]
    detected, chains, weight = closed_forms(detected, chains, weight)
    kept = ~inner_scraps(detected, chains, texture=texture)
    chains, weight = chains.taken(kept), weight[kept]
    main, likely = detected.prominence, detected.evidence.contour
    chains, of = with_shafts(detected.faces, detected.points, chains, likely)
    weight = weight[of]
    chains, of = without_rims(detected.faces, detected.points, chains, weight, likely)
    shares = main.figure, main.border, likely, detected.evidence.outer
    kept = ~head_strays(detected.faces, detected.points, chains, shares, texture=texture)
    chains, weight = chains.taken(kept), weight[of][kept]
    weight = strand_weights(detected.faces, detected.points, chains, shares, weight)
    chains, weight = parted(detected, chains, weight)
    return detected, chains, jaw_weights(detected.faces, detected.points, chains, weight)


def _in_place(
    detected: DetectedPoints,
    chains: Chains,
    weight: npt.NDArray[np.uint8],
    detail: float,
) -> tuple[Polylines, npt.NDArray[np.bool_], Chains, npt.NDArray[np.uint8], _Weighed]:
    """Lines where they run: ruled, and giving way to frames.

    Returns:
        The lines, which of their places stay there, their chains and weights; then the frames and
        theirs.
    """
    points, grid = detected.points, detected.grid
    places = in_mm(points.taken(chains.order), grid)
    lines = Polylines(places=places, first=chains.first, closed=chains.closed)
    near, grown = _known_within_mm(detected, chains), _grown(detected, chains)
    straight = ruled(lines, near, grown, detected.edges)
    with_frames = framed(straight, weight)
    stood = standing(straight.lines, ~grown & ~straight.built.all())
    goes = _scraps(detected, chains, detail, straight.straight, stood.between)
    chains, of, at = chains.parts(with_frames.stays & ~goes[chains.owner])
    places = stood.lines.places[at]
    stays = (places != lines.places[at]).any(axis=1) & ~stood.fair[at]
    lines = Polylines(places=places, first=chains.first, closed=chains.closed)
    if straight.built.all() and detected.edges is not None:
        built = BuiltLines(
            lines=lines,
            straight=straight.straight[at],
            worth=plainly_read(detected, chains).astype(np.float64),
            bounding=_bounding(detected, chains),
            others=with_frames.frames,
            size_mm=detected.edges.size_mm,
        )
        built = replace(built, lines=continuing(built))
        kept = belonging(built, without_texture(detail)) & ~fraying(built)
        kept |= chains.means(detected.evidence.plain) > 0
        chains, of, stays = chains.taken(kept), of[kept], stays[kept[lines.owner]]
        lines = reaching(built.taken(kept), partial(_read_at, detected))
    return lines, stays, chains, weight[of], (with_frames.frames, with_frames.weight)


def _made_fair(
    detected: DetectedPoints,
    lines: Polylines,
    stays: npt.NDArray[np.bool_],
    chains: Chains,
    pool: Executor | None,
) -> tuple[Polylines, npt.NDArray[np.bool_]]:
    """Lines fair, on rims and landed on each other, without what is nothing beside a rim.

    Returns:
        The lines, and which of those that were given they are.
    """
    points, grid = detected.points, detected.grid
    edge = points.kind[chains.order] != CONTOUR
    map_mm = detected.evidence.map_px[chains.order].astype(np.float64) * grid.pitch_mm
    lines = passed_over(lines, edge, stays, map_mm)
    known = known_mm(detected, chains)
    rims = with_rims(lines, known, stays)
    kept = ~rims.beside
    there = kept[lines.owner]
    lines = faired(rims.lines.taken(kept), known[there], (stays | rims.on)[there], pool)
    return landed(lines, landings(chains.taken(kept))), kept


def _missing_bounds(
    detected: DetectedPoints, chains: Chains
) -> list[tuple[npt.NDArray[np.float64], int]]:
    """What is missing of the bounds of faces, and the weight of each."""
    faces, points = detected.faces, detected.points
    jaws = missing_jaws([one.jaw for one in faces], points, chains)
    hair = missing_hairlines(faces, points, chains)
    crowns = missing_crowns(faces, points, chains)
    missing = ((jaws, PLAIN), (hair, INNER), (crowns, FORM))
    return [(line, kind) for some, kind in missing for line in some]


def _scraps(
    detected: DetectedPoints,
    chains: Chains,
    detail: float,
    straight: npt.NDArray[np.bool_],
    between: npt.NDArray[np.bool_],
) -> npt.NDArray[np.bool_]:
    """Which lines are loose and not ruled, or lie between what stands and join nothing."""
    ruled_places = np.bincount(chains.owner, straight, len(chains))
    ends_on = np.bincount([line for line, _, _ in landings(chains)], minlength=len(chains))
    may_go = loose(detected, judged(detected, chains, detail), detail)
    goes = may_go & (ruled_places < _RULED * chains.counts)
    return np.asarray(goes | (between & (ends_on < _BOTH)))


def _as_curves(
    lines: Polylines,
    weight: npt.NDArray[np.uint8],
    length_mm: Floats,
    sigma_mm: float,
    pool: Executor | None,
) -> Strokes:
    curves = fit_curves(lines, sigma_mm, pool)
    counts = np.bincount(curves.owner, minlength=len(weight))
    return Strokes(
        curves_mm=curves.points.astype(np.float32),
        first=np.concatenate(([0], np.cumsum(counts))).astype(np.int32),
        weight=weight,
        length_mm=length_mm,
    )


def find_points(  # noqa: PLR0913 - the picture, what is known of it, and where it is processed.
    sampled: SampledPicture,
    outline: Outline,
    artefacts: Artefacts,
    pool: Executor,
    *,
    placed: PlacedReading | None = None,
    tile_px: int = TILE_PX,
) -> DetectedPoints:
    """All points of lines, linked and measured.

    Args:
        sampled: The picture.
        outline: Which lines are wanted.
        artefacts: Noise and block steps.
        pool: Where tiles are processed.
        placed: The reading, where there is one.
        tile_px: The tiles' sides, a multiple of `COARSER`. The result does not depend on it,
            unless a tile has so many points that only the strongest are kept.
    """
    noise = (artefacts.noise, artefacts.chroma_noise)
    least = tuple(faintest(outline.detail, each) for each in noise)
    rows, columns = sampled.shape
    corners = [
        (top, left) for top in range(0, rows, tile_px) for left in range(0, columns, tile_px)
    ]
    placed = placed or unread()
    # What needs no points is found beside the tiles, and while theirs are linked.
    of_reading = pool.submit(_of_reading, placed, sampled)
    tiles: list[_Tile] = []
    found = pool.map(lambda corner: _process_tile(sampled, corner, tile_px, least), corners)
    for tile in found:
        tiles.append(tile)
        # A mural of gravel has points by the million, which need not be held until the end.
        if sum(len(each.points) for each in tiles) > 1.25 * MOST_POINTS:
            tiles = _strongest_of_tiles(tiles, MOST_POINTS)
    landmarks, ridges = of_reading.result()
    of_faces = pool.submit(seek_features, landmarks, placed, sampled)
    figures = pool.submit(figures_of, placed, sampled.shape, sampled.pitch_mm)
    tiles = _strongest_of_tiles(tiles, MOST_POINTS)
    chroma_slope_means = [
        tile.chroma_slope_means for tile in tiles if tile.chroma_slope_means is not None
    ]
    slope_means = SlopeMeans(
        grey=_assembled(sampled, tiles, [tile.slope_means for tile in tiles]),
        chroma=_assembled(sampled, tiles, chroma_slope_means) if chroma_slope_means else None,
    )
    points, link = _linked(tiles)
    # A large picture has many points, and they need not be held twice.
    del tiles
    plain = plain_forms(points, sampled.shape, sampled.pitch_mm)
    rounds_found = pool.submit(round_forms, points, placed, sampled, plain)
    points, link = with_lettering(points, link, plain, sampled.grey)
    features, rounds = of_faces.result(), rounds_found.result()
    lines = with_contours(
        points,
        link,
        placed,
        sampled.shape,
        sampled.pitch_mm,
        plain=plain,
        features=features,
        rounds=rounds,
        ridges=ridges,
        pool=pool,
    )
    chained = pool.submit(chains_of, lines.link)
    at = (lines.points.x, lines.points.y)
    focus = pool.submit(in_focus, sampled, slope_means.grey, artefacts.noise, lines.points)
    measured = pool.submit(measure_points, sampled, lines.points, slope_means, noise)
    evidence, shares = evidence_of(lines, placed), figures.result().shares(*at)
    # While points are still measured.
    prominence = prominence_of(
        lines.points,
        evidence,
        placed,
        sampled.shape,
        sampled.pitch_mm,
        shares,
        focus.result(),
    )
    beside = features.beside(*at).astype(np.float32)
    shadows = (
        None if outline.shadows == "none" else shadow_edges(placed, sampled.shape, sampled.grid)
    )
    return DetectedPoints(
        grid=sampled.grid,
        points=lines.points,
        link=lines.link,
        chains=chained.result(),
        measures=measured.result(),
        placed=placed,
        evidence=evidence,
        prominence=prominence,
        artefacts=artefacts,
        edges=PictureEdges(
            points=points,
            link=link,
            plain=plain,
            grid=sampled.grid,
            size_mm=(columns * sampled.grid.across_mm, rows * sampled.grid.down_mm),
        ),
        beside=beside,
        shadows=shadows,
        features=face_lines(features, sampled.grid),
        rounds=round_lines(rounds, sampled.grid),
        faces=features.faces,
    )


def _of_reading(placed: PlacedReading, sampled: SampledPicture) -> tuple[list[Doubles], RidgeLines]:
    """Landmarks of faces and ridges of contours.

    They are many small operations. Two threads of these wait for each other, by the lock of the
    interpreter, for longer than both take one after the other.
    """
    return seek_landmarks(placed, sampled), layered_ridges(placed, "contour")


def _strongest_of_tiles(tiles: list[_Tile], most: int) -> list[_Tile]:
    """The tiles with at most `most` points: those with the most contrast."""
    count = sum(len(tile.points) for tile in tiles)
    if count <= most:
        return tiles
    plain = _strongest(np.concatenate([tile.points.total for tile in tiles]), most)
    ends = np.cumsum([len(tile.points) for tile in tiles])
    return [
        replace(tile, points=tile.points.taken(which), wishes=tile.wishes[which])
        for tile, which in zip(tiles, np.split(plain, ends[:-1]), strict=True)
    ]


def _strongest(contrast: Floats, most: int) -> npt.NDArray[np.bool_]:
    """Marks the `most` values with the most contrast; of equal ones those that come first."""
    which = np.zeros(len(contrast), np.bool_)
    which[np.argsort(-contrast, kind="stable")[:most]] = True
    return which


def _linked(tiles: list[_Tile]) -> tuple[Points, Ids]:
    """The points of all tiles, with their neighbours."""
    parts = [tile.points for tile in tiles]
    order = key_order(parts)
    points = joined(parts, order)
    wishes = np.concatenate([tile.wishes for tile in tiles]).take(order, axis=0)
    return points, mutual(points.key, wishes)


def _process_tile(
    sampled: SampledPicture, corner: tuple[int, int], tile_px: int, least: tuple[float, ...]
) -> _Tile:
    """The points of one tile, each with its best neighbours on either side."""
    (top, left), (rows, columns) = corner, sampled.shape
    box = (top, left, min(top + tile_px, rows), min(left + tile_px, columns))
    gradients = gradients_of(
        _with_halo(sampled.grey, box, HALO_PX), left - HALO_PX, top - HALO_PX, sampled.shape
    )
    points, chroma_slope_means = points_of(gradients, least[0]), None
    if sampled.chroma:
        chroma = _chroma_gradients(sampled, box)
        points = with_chroma(gradients, points, chroma, least[1])
        chroma_slope_means = cell_means(_without_halo(chroma, _halved(box)), COARSER // CHROMA_PX)
    most = int(gradients.steep.size * DENSEST)
    if len(points) > most:
        points = points.taken(_strongest(points.total, most))
    wishes = best_neighbours(points, columns)
    row, column = rows_and_columns(points.key, columns)
    mine = (row >= top) & (row < box[2]) & (column >= left) & (column < box[3])
    slope_means = cell_means(_without_halo(gradients, box))
    return _Tile(top, left, points.taken(mine), wishes[mine], slope_means, chroma_slope_means)


def _chroma_gradients(sampled: SampledPicture, box: _Box) -> Gradients:
    """How fast colour changes in a tile and around it."""
    box, halo = _halved(box), HALO_PX // CHROMA_PX
    parts = tuple(_with_halo(values, box, halo) for values in sampled.chroma)
    size = sampled.chroma[0].shape
    return chroma_gradients(parts, box[1] - halo, box[0] - halo, (size[0], size[1]))


def _halved(box: _Box) -> _Box:
    """A tile's box in pixels of chroma."""
    top, left, bottom, right = box
    return top // CHROMA_PX, left // CHROMA_PX, bottom // CHROMA_PX, right // CHROMA_PX


def _without_halo(gradients: Gradients, box: _Box) -> Floats:
    """The slopes of a tile without its surroundings."""
    top, left, bottom, right = box
    return gradients.steep[
        top - gradients.top : bottom - gradients.top, left - gradients.left : right - gradients.left
    ]


def _with_halo(values: Bytes, box: _Box, halo: int) -> Bytes:
    """A part with `halo` pixels around it; edge values are repeated beyond the picture."""
    (rows, columns), (top, left, bottom, right) = values.shape, box
    part = values[max(top - halo, 0) : bottom + halo, max(left - halo, 0) : right + halo]
    down = max(halo - top, 0), max(bottom + halo - rows, 0)
    across = max(halo - left, 0), max(right + halo - columns, 0)
    return np.pad(part, (down, across), mode="edge") if any((*down, *across)) else part


def _assembled(sampled: SampledPicture, tiles: list[_Tile], parts: list[Floats]) -> Floats:
    """The small squares of all tiles, as one array for the whole picture."""
    rows, columns = sampled.shape
    whole = np.zeros((-(-rows // COARSER), -(-columns // COARSER)), np.float32)
    for tile, part in zip(tiles, parts, strict=True):
        top, left = tile.top // COARSER, tile.left // COARSER
        whole[top : top + len(part), left : left + part.shape[1]] = part
    return whole


def _read_at(detected: DetectedPoints, places: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """How likely the reading makes a line at places in mm, 0 to 1."""
    grid = detected.grid
    x, y = (places / (grid.across_mm, grid.down_mm) - 0.5).astype(np.float32).T
    return detected.placed.sampled("contour", x, y).astype(np.float64)


def _grown(detected: DetectedPoints, chains: Chains) -> npt.NDArray[np.bool_]:
    """Which lines are of heads and figures. Everything is of a figure where no head was found."""
    figure, head = detected.prominence.figure, detected.prominence.head
    if not head.any():
        return np.zeros(len(chains), np.bool_)
    return np.asarray(chains.means(np.maximum(figure, head)) > np.float32(_IN_FIGURE))


def _bounding(detected: DetectedPoints, chains: Chains) -> npt.NDArray[np.float64]:
    """How surely each line bounds a mass, 0 to 1."""
    evidence, usual = detected.evidence, chains.means(detected.prominence.usual)
    surely = chains.means(evidence.contour * evidence.outer * evidence.ridge)
    apart = chains.means(detected.measures.apart) / (_MASS_LEVELS * usual)
    return np.asarray(surely * np.minimum(apart, 1), np.float64)


def _known_within_mm(detected: DetectedPoints, chains: Chains) -> npt.NDArray[np.float64]:
    """How near to its line each place of something straight is found."""
    points, grid, map_px = detected.points, detected.grid, detected.evidence.map_px
    # Letters were looked for with half of the smoothing.
    edges = STRAIGHT * grid.sigma_mm * (1 - detected.evidence.plain / 2)
    near = np.where(points.kind == CONTOUR, STRAIGHT_READ * grid.pitch_mm * map_px, edges)
    return np.asarray(np.maximum(near, edges)[chains.order], np.float64)
