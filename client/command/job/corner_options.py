"""The options that square up a picture in the photo before anything else."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import click

from client.command.job.option_values import parse_number

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class SquareUpOptions:
    """What is squared up.

    Attributes:
        corners: x and y of four corners in any order, in shares of the upright photo.
        proportion: Width ÷ height of the picture between them; None: estimated.
    """

    corners: Corners
    proportion: float | None


def square_up_options(options: dict[str, Any]) -> SquareUpOptions | None:
    """The part of a command's options that squares up; None: nothing is squared up.

    Raises:
        click.UsageError: `--proportion` is given without `--corners`.
    """
    flat = options["corners"]
    if flat is None:
        if options["proportion"] is not None:
            raise click.UsageError("--proportion is that of the picture between --corners.")
        return None
    corners = tuple(zip(flat[::2], flat[1::2], strict=True))
    return SquareUpOptions(corners=corners, proportion=options["proportion"])


def parse_proportion(text: str) -> float:
    """Width ÷ height, as a number (1.5) or as two (3:2).

    Raises:
        click.BadParameter: It is neither, or not above 0.
    """
    across, colon, down = text.partition(":")
    sides = (parse_number(across), parse_number(down) if colon else 1.0)
    if min(sides) <= 0 or not math.isfinite(sides[0] / sides[1]):
        raise click.BadParameter(f"'{text}' is no proportion: say 3:2, or 1.5.")
    return sides[0] / sides[1]
