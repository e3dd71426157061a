"""Figures, in readings made for it."""

from __future__ import annotations

import numpy as np

from tests.unit.picture.outline.contours.test_contour_lines import (
    NOTHING,
    band,
    placed,
    places_of_map,
    reading,
)
from worker.picture.outline.prominence.figures import figures_of
from worker.spec.reading import Face, Reading
from worker.spec.spec import Area

SHAPE = (450, 600)
HEAD = Area(left=0.42, top=0.15, width=0.16, height=0.3)


def sitter(gap_mm: float = 0.0) -> Reading:
    """A head on a body 70 mm wide, whose outer contour is read, before posts that are read too.

    The contour may have a gap on the right, of a given height.
    """
    x, y = places_of_map()
    body = np.abs(np.abs(x - 75) - 35 * np.clip((y - 45) / 12, 0.3, 1))
    head = np.abs(np.hypot((x - 75) / 12, (y - 33.75) / 17) - 1) * 14
    far = np.where(y > 50, body, np.minimum(head, np.where(y > 45, body, 99)))
    posts = np.where(np.abs(x - 75) > 40, np.abs((x % 14) - 7), 99)
    far = np.where((x > 75) & (np.abs(y - 90) < gap_mm / 2), 99, far)
    lines = np.maximum(band(far / 0.75), band(posts / 0.75))
    return reading(lines, outer=lines, faces=(Face(box=HEAD, head=HEAD, eyes=()),))


def shares(read: Reading, *places_mm: tuple[float, float]) -> list[float]:
    x, y = (np.array(each, np.float32) / 0.25 for each in zip(*places_mm, strict=True))
    return figures_of(placed(read), SHAPE, 0.25).shares(x, y)[0].tolist()


def borders(read: Reading, *places_mm: tuple[float, float]) -> list[float]:
    x, y = (np.array(each, np.float32) / 0.25 for each in zip(*places_mm, strict=True))
    return figures_of(placed(read), SHAPE, 0.25).shares(x, y)[1].tolist()


def test_a_body_belongs_to_its_head_as_far_as_its_outer_contour() -> None:
    assert min(shares(sitter(), (75, 30), (75, 70), (48, 90), (103, 100))) > 0.9
    assert max(shares(sitter(), (8, 20), (20, 60), (140, 95), (75, 5))) < 0.1


def test_the_contour_itself_is_of_the_figure() -> None:
    assert min(shares(sitter(), (40, 90), (110, 90))) >= 0.5


def test_its_border_is_where_its_outer_contour_is() -> None:
    assert min(borders(sitter(), (40, 90), (110, 90), (63, 34))) > 0.35
    assert max(borders(sitter(), (75, 75), (75, 90), (8, 20), (140, 95))) < 0.1


def test_what_hangs_beside_a_head_is_behind_it_though_nothing_parts_the_two() -> None:
    """A picture on the wall, where hair and wall are as dark."""
    x, y = places_of_map()
    frame = np.maximum(np.abs(x - 102), np.abs(y - 30) * 1.2) - 12
    lines = band(frame / 0.75)
    read = reading(lines, outer=lines, faces=(Face(box=HEAD, head=HEAD, eyes=()),))
    assert max(shares(read, (92, 30), (102, 30), (112, 30))) < 0.1


def test_a_gap_in_an_outer_contour_lets_little_through() -> None:
    gap = sitter(gap_mm=8.0)
    assert max(shares(gap, (124, 90), (124, 60), (140, 95))) < 0.1
    assert min(shares(gap, (75, 90), (103, 100))) > 0.9


def test_what_contours_part_from_a_body_is_not_of_it_though_they_part_it_from_the_rest() -> None:
    """A flag beside a coat, down to the picture's lower edge."""
    x, y = places_of_map()
    coat = np.where(y > 50, np.abs(np.abs(x - 75) - 35), 99)
    flag = np.where((y > 55) & (x > 110), np.abs((x % 10) - 5), 99)
    top = np.where(x > 110, np.abs(y - 55), 99)
    lines = band(np.minimum(np.minimum(coat, flag), top) / 0.75)
    read = reading(lines, outer=lines, faces=(Face(box=HEAD, head=HEAD, eyes=()),))
    assert max(shares(read, (120, 80), (140, 100), (130, 70))) < 0.1
    assert min(shares(read, (75, 80), (100, 100))) > 0.9


def test_without_a_head_everything_counts() -> None:
    assert shares(reading(NOTHING), (8, 20), (75, 60)) == [1.0, 1.0]
    assert borders(reading(NOTHING), (8, 20), (75, 60)) == [0.0, 0.0]


def test_a_crop_without_the_head_has_no_figure() -> None:
    x, y = np.array([40.0, 80.0], np.float32), np.array([200.0, 300.0], np.float32)
    share, border = figures_of(placed(sitter()), (450, 160), 0.25).shares(x, y)
    assert share.tolist() == [1.0, 1.0]
    assert border.tolist() == [0.0, 0.0]


def test_who_is_cropped_away_leaves_the_picture_to_smaller_ones() -> None:
    """The large head begins at 42 % of 600 pixels, the small one ends at 13."""
    small = Area(left=0.08, top=0.1, width=0.05, height=0.16)
    faces = tuple(Face(box=head, head=head, eyes=()) for head in (HEAD, small))
    read = reading(NOTHING, outer=NOTHING, faces=faces)
    x, y = np.array([63.0, 5.0], np.float32), np.array([81.0, 5.0], np.float32)
    share, _ = figures_of(placed(read), (450, 160), 0.5).shares(x, y)
    assert share[0] > 0.9
    assert share[1] < 0.1
