"""A progress bar for people at a terminal; nothing in a pipe or a log."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

Report = Callable[[int, int, str], None]


def _quiet(done: int, total: int, step: str) -> None:
    """Nobody watches."""


@contextmanager
def bar(*, quiet: bool) -> Iterator[Report]:
    """A function to call with pieces done, pieces to do, and the step under way.

    The bar stands on standard error, so that standard output stays what was asked for.
    """
    if quiet or not sys.stderr.isatty():
        yield _quiet
        return
    with click.progressbar(
        length=1000, file=sys.stderr, show_pos=False, item_show_func=lambda step: step
    ) as drawn:

        def report(done: int, total: int, step: str) -> None:
            place = round(1000 * done / total) if total else 0
            drawn.update(place - drawn.pos, f"{step} {done}/{total}" if total else step)

        yield report
