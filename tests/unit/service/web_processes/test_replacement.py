"""What a reload replaces goes on until something newer answers."""

from __future__ import annotations

import os

from service.web_processes.replacement import Replacement


def test_at_the_start_nothing_is_replaced() -> None:
    replacement = Replacement()
    assert not replacement.lasts(1)
    replacement.ready(1)
    assert not replacement.lasts(1)


def test_old_ones_wait_for_the_first_new_one() -> None:
    replacement = Replacement()
    replacement.ready(1)
    replacement.ready(2)
    replacement.begin(2)
    assert [replacement.lasts(age) for age in (1, 2, 3)] == [True, True, False]
    replacement.ready(4)
    assert not replacement.lasts(1)


def test_one_that_answers_late_does_not_take_back_that_a_newer_one_does() -> None:
    replacement = Replacement()
    replacement.begin(2)
    replacement.ready(3)
    replacement.ready(2)
    assert not replacement.lasts(1)


def test_a_second_reload_replaces_the_new_ones_too() -> None:
    replacement = Replacement()
    replacement.begin(2)
    replacement.ready(4)
    replacement.begin(4)
    assert replacement.lasts(4)


def test_forked_processes_see_the_same_numbers() -> None:
    replacement = Replacement()
    replacement.begin(2)
    child = os.fork()
    if not child:
        replacement.ready(3)
        os._exit(0)
    os.waitpid(child, 0)
    assert not replacement.lasts(2)
