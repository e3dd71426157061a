"""A progress bar for people at a terminal; nothing in a pipe or a log."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

Report = Callable[[int, int, str], None]


def _no_report(done: int, total: int, step: str) -> None:
    """Reports nothing."""


@contextmanager
def progress_bar(*, quiet: bool) -> Iterator[Report]:
    """Show a progress bar; yields a function that takes pieces done, pieces in all, and the step.

    The bar is drawn on standard error, so that standard output holds the result only.
    """
    if quiet or not sys.stderr.isatty():
        yield _no_report
        return
    with click.progressbar(
        length=1000, file=sys.stderr, show_pos=False, item_show_func=lambda step: step
    ) as drawn:

        def report(done: int, total: int, step: str) -> None:
            position = round(1000 * done / total) if total else 0
            drawn.update(position - drawn.pos, f"{step} {done}/{total}" if total else step)

        yield report
