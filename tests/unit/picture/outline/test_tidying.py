"""Which strokes are left out beside the rest, of lines that are given."""

from __future__ import annotations

import numpy as np

from tests.unit.picture.outline.given_lines import PITCH_MM, along, lines_of
from worker.picture.outline.tidying import connecting, crumbs, doubled, orphans, together_mm


def test_of_two_lines_within_a_pencils_width_the_better_one_is_drawn() -> None:
    one, two = along((0, 0), (40, 0)), along((5, 0.8), (35, 0.8))
    assert doubled(*lines_of(one, two), PITCH_MM, 0.5).tolist() == [False, True]
    assert doubled(*lines_of(one, two, worth=(1.1, 9.0)), PITCH_MM, 0.5).tolist() == [True, False]


def test_both_sides_of_something_wider_stay_and_so_do_lines_that_cross() -> None:
    side = along((0, 0), (40, 0))
    assert not doubled(*lines_of(side, along((0, 2), (40, 2))), PITCH_MM, 0.5).any()
    assert not doubled(*lines_of(side, along((20, -3), (20, 3))), PITCH_MM, 0.5).any()


def test_a_strand_along_a_far_better_line_is_left_out() -> None:
    """Of hair, of light, of a shade, in a face as well; texture is drawn where it is wanted."""
    edge, strand = along((0, 0), (80, 0)), along((10, 2.5), (60, 2.5))
    worth = (9.0, 1.1)
    assert doubled(*lines_of(edge, strand, worth=worth), PITCH_MM, 0.5).tolist() == [False, True]
    assert not doubled(*lines_of(edge, strand, worth=worth), PITCH_MM, 0.75).any()
    in_face = lines_of(edge, strand, worth=worth, face_mm=80.0)
    assert doubled(*in_face, PITCH_MM, 0.5).tolist() == [False, True]
    assert not doubled(*lines_of(edge, along((10, 5), (60, 5)), worth=worth), PITCH_MM, 0.5).any()


def test_a_longer_line_needs_a_better_one_beside_it_to_be_left_out() -> None:
    """A fold's other side is short; a strap or a bar is long, and in a small face less so."""
    edge, short, long = along((0, 0), (80, 0)), along((10, 3), (30, 3)), along((10, 3), (50, 3))
    # Better by 3.4 and 3.5 times, as length counts by its root.
    worth = (3.4, 2.0)
    assert doubled(*lines_of(edge, short, worth=worth), PITCH_MM, 0.5).tolist() == [False, True]
    assert not doubled(*lines_of(edge, long, worth=(5.0, 2.0)), PITCH_MM, 0.5).any()
    in_small_face = lines_of(edge, short, worth=worth, face_mm=60.0)
    assert not doubled(*in_small_face, PITCH_MM, 0.5).any()


def test_two_lines_that_are_as_good_are_both_drawn() -> None:
    """Lips, lids, the two sides of a stripe."""
    sides = along((0, 0), (20, 0)), along((0, 2.5), (20, 2.5))
    assert not doubled(*lines_of(*sides, worth=(2.2, 2.0)), PITCH_MM, 0.5).any()
    assert not doubled(*lines_of(*sides, worth=(2.2, 2.0), face_mm=100.0), PITCH_MM, 0.5).any()


def test_behind_a_figure_one_of_some_lines_beside_each_other_is_drawn() -> None:
    slats = along((0, 0), (40, 0)), along((0, 5), (40, 5))
    assert not doubled(*lines_of(*slats), PITCH_MM, 0.5).any()
    behind = lines_of(*slats, scale=3.0)
    assert doubled(*behind, PITCH_MM, 0.5).tolist() == [False, True]
    assert not doubled(*behind, PITCH_MM, 0.75).any()
    apart = lines_of(slats[0], along((0, 8), (40, 8)), scale=3.0)
    assert not doubled(*apart, PITCH_MM, 0.5).any()


def test_behind_a_figure_lines_are_longer_or_left_out() -> None:
    stroke = along((0, 0), (20, 0))
    for left_out in (orphans, crumbs):
        assert not left_out(*lines_of(stroke, worth=(1.5,)), PITCH_MM, 0.5).any()
        assert left_out(*lines_of(stroke, worth=(1.5,), scale=3.0), PITCH_MM, 0.5).all()


def test_a_short_stroke_that_nothing_continues_is_left_out() -> None:
    long, speck = along((0, 0), (60, 0)), along((20, 20), (25, 20))
    found = lines_of(long, speck)
    assert orphans(*found, PITCH_MM, 0.5).tolist() == [False, True]
    # Whoever wants texture has it.
    assert not orphans(*found, PITCH_MM, 0.75).any()


def test_parts_of_one_dashed_line_belong_together() -> None:
    dashes = [along((at, 0), (at + 5, 0)) for at in range(0, 60, 8)]
    assert not orphans(*lines_of(*dashes), PITCH_MM, 0.5).any()
    strewn = [along((at, at % 3 * 7), (at + 5, at % 3 * 7 + 1)) for at in range(0, 60, 11)]
    assert orphans(*lines_of(*strewn), PITCH_MM, 0.5).all()


def test_plain_ones_small_faces_and_what_is_surely_read_stay() -> None:
    speck = along((20, 20), (25, 20))
    assert orphans(*lines_of(speck), PITCH_MM, 0.5).all()
    assert not orphans(*lines_of(speck, score=60.0), PITCH_MM, 0.5).any()
    assert not orphans(*lines_of(speck, likely=0.8), PITCH_MM, 0.5).any()
    assert not orphans(*lines_of(speck, face_mm=60.0), PITCH_MM, 0.5).any()


def test_a_faint_line_from_one_drawn_line_to_another_closes_a_form() -> None:
    """A frame whose fourth side is faint, another faint line on it that ends in the open."""
    sides = [((0, 0), (30, 0)), ((30, 0.5), (30, 20)), ((30, 20.5), (0, 20.5))]
    fourth, loose = ((0, 19), (0, 2)), ((15, 1), (15, 12))
    ways = [along(*way) for way in (*sides, fourth, loose)]
    points, lines = lines_of(*ways, worth=(2.0, 2.0, 2.0, 0.6, 0.6))
    kept = lines.worth > 1
    found = connecting(points, lines, kept, PITCH_MM)
    assert found.tolist() == [False, False, False, True, False]
    hardly = lines_of(*ways, worth=(2.0, 2.0, 2.0, 0.2, 0.2))[1]
    assert not connecting(points, hardly, kept, PITCH_MM).any()


def test_what_runs_beside_a_drawn_line_closes_nothing() -> None:
    points, lines = lines_of(along((0, 0), (30, 0)), along((5, 1.4), (15, 1.4)), worth=(2.0, 0.6))
    assert not connecting(points, lines, lines.worth > 1, PITCH_MM).any()


def test_what_closes_a_form_by_a_line_that_does_is_drawn_with_it() -> None:
    """Two faint lines, of which the second ends on the first."""
    ways = [((0, 0), (40, 0)), ((0, 40), (40, 40)), ((20, 1), (20, 39)), ((5, 1), (5, 20))]
    last = ((6, 20), (19, 20))
    points, lines = lines_of(
        *(along(*way) for way in (*ways, last)), worth=(2.0, 2.0, 0.6, 2.0, 0.6)
    )
    found = connecting(points, lines, lines.worth > 1, PITCH_MM)
    assert found.tolist() == [False, False, True, False, True]


def test_a_line_goes_on_from_a_drawn_one_more_faintly_than_it_begins() -> None:
    """Hysteresis, as of Canny (PAMI 1986): what goes on needs less than what stands alone."""
    drawn, on, aside = ((0, 0), (40, 0)), ((43, 0), (80, 0)), ((43, 9), (80, 9))
    ways = [along(*way) for way in (drawn, on, aside)]
    points, lines = lines_of(*ways, worth=(2.0, 0.7, 0.7))
    found = connecting(points, lines, lines.worth > 1, PITCH_MM)
    assert found.tolist() == [False, True, False]
    fainter = lines_of(*ways, worth=(2.0, 0.5, 0.5))[1]
    assert not connecting(points, fainter, fainter.worth > 1, PITCH_MM).any()


def test_lines_are_as_long_together_as_all_that_continue_them() -> None:
    ways = [((0, 0), (20, 0)), ((21, 0), (30, 0)), ((60, 60), (70, 60))]
    points, lines = lines_of(*(along(*way) for way in ways))
    assert np.allclose(together_mm(points, lines, PITCH_MM), [29, 29, 10])


def test_a_short_line_that_the_reading_has_not_is_a_crumb() -> None:
    long, speck = along((0, 0), (60, 0)), along((20, 6), (28, 4))
    worth = (5.0, 1.3)
    assert crumbs(*lines_of(long, speck, worth=worth), PITCH_MM, 0.5).tolist() == [False, True]
    # Whoever wants texture has it; so has a face, and a place of which nothing is read.
    assert not crumbs(*lines_of(long, speck, worth=worth), PITCH_MM, 0.75).any()
    assert not crumbs(*lines_of(long, speck, worth=worth, face_mm=80.0), PITCH_MM, 0.5).any()
    assert not crumbs(*lines_of(long, speck, worth=worth, known=0.0), PITCH_MM, 0.5).any()


def test_what_is_worth_much_or_read_is_no_crumb() -> None:
    speck = along((20, 6), (28, 4))
    assert crumbs(*lines_of(speck, worth=(1.3,)), PITCH_MM, 0.5).all()
    assert not crumbs(*lines_of(speck, worth=(2.5,)), PITCH_MM, 0.5).any()
    assert not crumbs(*lines_of(speck, worth=(1.3,), likely=0.8), PITCH_MM, 0.5).any()
    assert not crumbs(*lines_of(along((0, 0), (14, 0)), worth=(1.3,)), PITCH_MM, 0.5).any()


def test_a_leaf_that_the_reading_half_has_is_a_crumb() -> None:
    speck = along((20, 6), (28, 4))
    assert crumbs(*lines_of(speck, worth=(1.7,), likely=0.6), PITCH_MM, 0.5).all()


def test_halves_of_a_small_form_are_no_crumbs() -> None:
    """A pin or a rosette, if the reading has it by half; the same lines apart are crumbs."""
    upper, lower = along((20, 0), (29, 1)), along((20, 1.5), (29, 1.5))
    form = lines_of(upper, lower, worth=(1.3, 1.3), likely=0.5)
    assert not crumbs(*form, PITCH_MM, 0.5).any()
    apart = lines_of(upper, along((20, 9), (29, 9)), worth=(1.3, 1.3), likely=0.5)
    assert crumbs(*apart, PITCH_MM, 0.5).all()
    unread = lines_of(upper, lower, worth=(1.3, 1.3), likely=0.2)
    assert crumbs(*unread, PITCH_MM, 0.5).all()


def test_a_short_part_between_two_lines_is_no_crumb() -> None:
    ways = along((0, 0), (40, 0)), along((43, 0), (50, 0)), along((53, 0), (90, 0))
    assert not crumbs(*lines_of(*ways, worth=(5.0, 1.3, 5.0)), PITCH_MM, 0.5).any()
    assert crumbs(*lines_of(*ways[:2], worth=(5.0, 1.3)), PITCH_MM, 0.5).tolist() == [False, True]
