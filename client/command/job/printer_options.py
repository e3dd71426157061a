"""A printer's part of a spec, written as options of the command line."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from typing import Any


def options_as_text(spec: dict[str, Any]) -> str:
    """The options, ready to be pasted into a shell.

    Args:
        spec: `sheet` and `print`, as a printer's profile gives them.
    """
    return shlex.join(_options(spec))


def _options(spec: dict[str, Any]) -> Iterator[str]:
    sheet, print_ = spec["sheet"], spec["print"]
    yield from ("--sheet", sheet["format"])
    margins = sheet.get("margin_mm")
    if margins:
        edges = (margins[edge] for edge in ("top", "right", "bottom", "left"))
        yield from ("--margins", ",".join(f"{wide:g}" for wide in edges))
    for way in ("across", "down"):
        correction = print_[f"{way}_correction"]
        if correction != 1.0:
            yield from (f"--{way}-correction", f"{correction:g}")
    if print_.get("printer"):
        yield from ("--printer", print_["printer"])
