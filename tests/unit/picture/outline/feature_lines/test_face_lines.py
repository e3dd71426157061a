"""A painted face, drawn as a whole: its features once each, and nothing else."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from tests.unit.picture.outline.contours.features.painted_faces import (
    EYES,
    HALF_MM,
    INNER_MM,
    LOWER_MM,
    NOSE_MM,
    OUTER_MM,
    PARTING_MM,
    UPPER_MM,
    brow_edges,
    face,
    marks,
    mouth_edge,
    open_marks,
    painted,
)
from tests.unit.picture.outline.contours.test_contour_lines import (
    MAP_MM,
    SURE,
    Floats,
    band,
    placed,
    places_of_map,
)
from worker.picture.outline.contours.contour_lines import APART_MM
from worker.picture.outline.contours.features import face_features
from worker.picture.outline.detected_points import Artefacts
from worker.picture.outline.feature_lines.face_lines import face_lines
from worker.picture.outline.pipeline import find_points, strokes_of
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.spec.reading import Reading
from worker.spec.spec import Outline
from worker.spec.strokes import FORM, INNER, PLAIN, Strokes


def known() -> Floats:
    """Places along all lines that were painted and are drawn, in mm from between the eyes."""
    across = np.linspace(-1, 1, 400)
    out = np.linspace(INNER_MM, OUTER_MM, 200)
    lines = [(sign * out, edge) for sign in (-1, 1) for edge in brow_edges(out)]
    # Of lips' edges there is what is apart from the line between them.
    for below, share in ((UPPER_MM, 0.8), (PARTING_MM, 1.0), (LOWER_MM, 0.65)):
        here = HALF_MM * share * across
        lines.append((here, mouth_edge(here, below)))
    for end in (INNER_MM, OUTER_MM):
        upper, lower = brow_edges(np.array([end]))
        lines += [
            (np.full(40, sign * end), np.linspace(upper[0], lower[0], 40)) for sign in (-1, 1)
        ]
    return np.concatenate([np.stack(one, axis=1) for one in lines])


def reading() -> Reading:
    """Features as broad bands, as a coarse map has them, and a socket's shade beside a brow."""
    x, y = places_of_map()
    here = np.stack((x - 75.0, y - EYES[0][1]), axis=-1)
    near = cKDTree(known()).query(here)[0]
    shade = np.hypot(here[..., 0] + 27, np.maximum(np.abs(here[..., 1] + 1) - 6, 0))
    return replace(face(), contour=band(np.minimum(near, shade) / MAP_MM, 1.6))


@pytest.fixture(autouse=True)
def _landmarks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a painted face, which no network has learnt, they are known."""
    monkeypatch.setattr(face_features, "seen_landmarks", lambda *_: [marks()])


def drawn(read: Reading | None = None) -> Strokes:
    with ThreadPoolExecutor(2) as pool:
        quiet = Artefacts(noise=0.0, step=0.0)
        found = find_points(painted(), Outline(), quiet, pool, placed=placed(read or reading()))
    return strokes_of(found, Outline())


def _parts(strokes: Strokes) -> list[Floats]:
    """The curves of each stroke."""
    return np.split(strokes.curves_mm, strokes.first[1:-1])


def places(strokes: Strokes) -> Floats:
    """Places along all strokes, in mm from between the eyes."""
    t = np.linspace(0, 1, 17)[:, None]
    shares = np.stack(((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3))
    along = (shares[None] * strokes.curves_mm[:, :, None]).sum(axis=1).reshape(-1, 2)
    return np.asarray(along - (75.0, EYES[0][1]), np.float64)


def test_features_are_drawn_where_they_are_and_nothing_else_is() -> None:
    lines, painted_at = places(drawn()), known()
    # What the photo resolves is half a millimetre here.
    assert (cKDTree(lines).query(painted_at)[0] < 0.5).mean() > 0.95
    # Corners of a mouth are found within a millimetre; beside an eye without lids is shade.
    beside = np.abs(lines[:, 0] + OUTER_MM) < 1.0
    assert (cKDTree(painted_at).query(lines[~beside])[0] < 1.1).all()


def test_each_is_one_line() -> None:
    strokes = drawn()
    closed = [np.hypot(*(curves[0, 0] - curves[-1, -1])) < 1e-3 for curves in _parts(strokes)]
    assert sum(closed) == 2
    # Lips' edges are lighter than the line between them, and than brows.
    lips = strokes.weight[~np.array(closed)]
    assert sorted(lips.tolist()).count(INNER) >= 2
    assert set(strokes.weight[closed].tolist()) == {PLAIN}


def test_a_fold_within_a_face_is_light_though_it_may_bound_something() -> None:
    x, y = places_of_map()
    here = np.stack((x - 75.0, y - EYES[0][1]), axis=-1)
    fold = np.hypot(here[..., 0] - 22, np.maximum(np.abs(here[..., 1] - 20) - 9, 0))
    near = np.minimum(cKDTree(known()).query(here)[0], fold)
    strokes = drawn(replace(face(), contour=band(near / MAP_MM, 1.6), outer=SURE))
    middles = np.array([part.mean(axis=(0, 1)) for part in _parts(strokes)])
    folds = np.hypot(*(middles - (75.0 + 22, EYES[0][1] + 20)).T) < 2
    assert strokes.length_mm[folds].sum() > 14
    assert set(strokes.weight[folds].tolist()) == {INNER}


@pytest.mark.parametrize(("smaller", "closed", "lips"), [(1.5, 2, 2), (2.0, 0, 2), (2.4, 0, 1)])
def test_what_is_thinner_than_two_pencil_lines_is_one(
    smaller: float, closed: int, lips: int
) -> None:
    """The same face on smaller paper: brows of 2.2 mm, an upper lip of 2.6, a lower one of 5.7."""
    picture = painted()
    grid = PixelGrid(across_mm=0.25 / smaller, down_mm=0.25 / smaller)
    found = face_features.seek_features([marks()], placed(face()), picture)
    lines = face_lines(found, grid)
    assert int(lines.lines.closed.sum()) == closed
    assert lines.weight.tolist().count(INNER) == lips


@pytest.mark.parametrize(("larger", "closed"), [(1.0, True), (1.6, True), (1.0, False)])
def test_edges_of_lips_do_not_run_into_the_corners(larger: float, *, closed: bool) -> None:
    """Else a closed mouth grins; in a small face its lower edge is in the middle alone."""
    places = marks() if closed else open_marks()
    picture = painted(mouth="closed" if closed else "open")
    found = face_features.features_of(places, placed(face()), picture)
    assert found is not None
    assert found.mouth is not None
    one = replace(found, eyes=(), brows=(), nose=None)
    grid = PixelGrid(across_mm=0.25 * larger, down_mm=0.25 * larger)
    drawn = face_lines(face_features.FaceFeatures(faces=(one,)), grid)
    ends = [
        drawn.lines.places[first:last]
        for first, last in zip(drawn.lines.first[:-1], drawn.lines.first[1:], strict=True)
    ]
    wide = [float(np.ptp(line[:, 0])) / (2 * HALF_MM * larger) for line in ends]
    inner = [share for share, kind in zip(wide, drawn.weight, strict=True) if kind == PLAIN]
    upper, lower = (share for share, kind in zip(wide, drawn.weight, strict=True) if kind == INNER)
    assert min(inner) > 0.9
    assert 0.5 < upper < 0.93
    # The edges are a parabola apart from the line, which is half as high at .7 of its width.
    assert (lower < 0.75) == (closed and larger == 1)
    assert lower > 0.6
    apart = cKDTree(
        np.concatenate(
            [line for line, kind in zip(ends, drawn.weight, strict=True) if kind == PLAIN]
        )
    )
    for line, kind in zip(ends, drawn.weight, strict=True):
        if kind == INNER:
            assert apart.query(line)[0].min() > APART_MM * 0.95


def test_no_line_is_drawn_beyond_the_picture() -> None:
    """A face at the picture's edge, where all that is right of the middle is cut off."""
    picture, most = painted(), round(80 / 0.25)
    cut = replace(
        picture,
        grey=picture.grey[:, :most],
        chroma=tuple(one[:, : most // 2] for one in picture.chroma),
    )
    found = face_features.features_of(marks(), placed(face()), cut)
    assert found is not None
    lines = face_lines(face_features.FaceFeatures(faces=(found,)), cut.grid).lines
    assert 79 < lines.places[:, 0].max() <= 80
    assert lines.places[:, 0].min() < 50


@pytest.mark.parametrize(("larger", "weight"), [(1.0, PLAIN), (1.6, FORM)])
def test_the_upper_lid_is_the_heaviest_line_of_a_large_face(larger: float, weight: int) -> None:
    """As lashes are darkest there; the lower lid is light (common practice)."""
    picture = painted(eyes=True)
    found = face_features.features_of(marks(), placed(face()), picture)
    assert found is not None
    assert len(found.eyes) == 2
    pitch = 0.25 * larger
    grid = PixelGrid(across_mm=pitch, down_mm=pitch)
    drawn = face_lines(face_features.FaceFeatures(faces=(found,)), grid)
    starts = drawn.lines.places[drawn.lines.first[:-1]]
    for eye in found.eyes:
        corner = (found.part.on_grid(eye.upper)[0] + 0.5) * pitch
        both = np.flatnonzero(np.hypot(*(starts - corner).T) < 0.01)
        assert sorted(drawn.weight[both].tolist()) == sorted([INNER, weight])
    assert drawn.weight.max() == weight


@pytest.mark.parametrize(("larger", "weight", "high"), [(1.0, INNER, 1.4), (1.6, PLAIN, 4.0)])
def test_a_nose_is_light_and_open_at_its_sides_in_a_small_face(
    larger: float, weight: int, high: float
) -> None:
    """The same face of 76 mm, and of 122; so far up its wings are drawn, in mm of the first."""
    picture = painted(brows=False, nose=True, mouth="none")
    grid = PixelGrid(across_mm=0.25 * larger, down_mm=0.25 * larger)
    found = face_features.seek_features([marks()], placed(face()), picture)
    # A line that is painted as dark all along it has no nostrils.
    bare = [replace(one, nostrils=()) for one in found.faces]
    lines = face_lines(replace(found, faces=tuple(bare)), grid)
    assert lines.weight.tolist() == [weight]
    below = lines.lines.places[:, 1] / larger - EYES[0][1]
    assert below.min() == pytest.approx(NOSE_MM - high, abs=0.7)


def test_nostrils_part_the_line_below_a_nose() -> None:
    picture = painted(brows=False, nose=True, nostrils=(-1, 1), mouth="none", blur=1.0)
    found = face_features.seek_features([marks()], placed(face()), picture)
    (one,) = found.faces
    assert len(one.nostrils) == 2
    grid = PixelGrid(across_mm=0.4, down_mm=0.4)
    lines = face_lines(found, grid)
    places = one.part.on_part(lines.lines.places / 0.4 - 0.5)
    rings = [
        places[a:b] for a, b in zip(lines.lines.first[:-1], lines.lines.first[1:], strict=True)
    ]
    closed = [bool((ring[0] == ring[-1]).all()) for ring in rings]
    assert sum(closed) == 2
    assert len(rings) > 2
    for ring, is_nostril in zip(rings, closed, strict=True):
        if not is_nostril:
            assert not any(each.has(ring).any() for each in one.nostrils)


def test_a_nostril_whose_edges_run_together_is_one_line() -> None:
    picture = painted(brows=False, nose=True, nostrils=(-1, 1), mouth="none", blur=1.0)
    found = face_features.seek_features([marks()], placed(face()), picture)
    (one,) = found.faces
    thick = 2 * np.hypot(*one.nostrils[0].axes[1]) * one.part.coarser
    for times, rings in ((1.3, 2), (0.7, 0)):
        pitch_mm = times * 1.2 / thick
        lines = face_lines(found, PixelGrid(across_mm=pitch_mm, down_mm=pitch_mm))
        ends = lines.lines.first[:-1], lines.lines.first[1:] - 1
        closed = (lines.lines.places[ends[0]] == lines.lines.places[ends[1]]).all(axis=1)
        assert closed.sum() == rings
