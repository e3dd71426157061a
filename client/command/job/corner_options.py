"""A picture in the photo that is squared up first, as it is said on the command line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import click

from client.command.job.readers import number

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class Squaring:
    """Four corners in shares of the photo, in any order, and width ÷ height where known."""

    corners: Corners
    proportion: float | None


def squaring(said: dict[str, Any]) -> Squaring | None:
    """What was said of squaring up; None: nothing.

    Raises:
        click.UsageError: A proportion was said, but not of what.
    """
    flat = said["corners"]
    if flat is None:
        if said["proportion"] is not None:
            raise click.UsageError("--proportion is that of the picture between --corners.")
        return None
    corners = tuple(zip(flat[::2], flat[1::2], strict=True))
    return Squaring(corners=corners, proportion=said["proportion"])


def read_proportion(text: str) -> float:
    """Width ÷ height, as a number (1.5) or as two (3:2).

    Raises:
        click.BadParameter: It is neither, or not above 0.
    """
    across, colon, down = text.partition(":")
    sides = (number(across), number(down) if colon else 1.0)
    if min(sides) <= 0 or not math.isfinite(sides[0] / sides[1]):
        raise click.BadParameter(f"'{text}' is no proportion: say 3:2, or 1.5.")
    return sides[0] / sides[1]
