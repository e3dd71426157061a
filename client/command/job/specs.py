"""From what was said on the command line to the JSON spec of the contract.

Only what was said is in it: every default stays where it is defined, in `worker.spec.json`,
and the same document goes to the service or to the making in process.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import click

from client.command.job.sizes import Size, turned

Spec = dict[str, Any]

AREA_NAMES = ("left", "top", "width", "height")
#: A lap that a glue stick holds (common practice), where `--joint lap` is all that was said.
USUAL_LAP_MM = 10.0
#: Which option sets a field of the spec, for messages about that field.
OPTION_OF = {
    "support": "--support",
    "support.border_mm": "--border",
    "support.tone": "--support-tone",
    "crop": "--crop",
    "crop.focus": "--focus",
    "rotate_deg": "--rotate",
    "tone.style": "--style",
    "tone.lighten": "--lighten",
    "tone.contrast": "--contrast",
    "tone.outline.line_mm": "--line",
    "tone.outline.detail": "--detail",
    "tone.outline.shortest_mm": "--shortest",
    "tone.values.count": "--tones",
    "tone.values.thresholds": "--thresholds",
    "tone.values.smallest_mm": "--smallest",
    "grid": "--grid",
    "grid.diagonals": "--diagonals",
    "grid.line_mm": "--grid-line",
    "sheet.format": "--sheet",
    "sheet.margin_mm": "--margins",
    "seams.joint": "--joint",
    "seams.lap_mm": "--lap",
    "seams.arrangement": "--arrangement",
    "seams.placement": "--placement",
    "seams.protect": "--protect",
    "print.resolution_ppi": "--ppi",
    "print.mirror": "--mirror",
    "print.across_correction": "--across-correction",
    "print.down_correction": "--down-correction",
    "print.printer": "--printer",
    "across_mm": "--across",
    "down_mm": "--down",
    "margin_mm": "--margins",
    "title": "--title",
    "corners": "--corners",
    "proportion": "--proportion",
}


def option_of(field: str | None) -> str | None:
    """The option that sets a field of the spec, or the nearest that encloses it."""
    while field:
        if field in OPTION_OF:
            return OPTION_OF[field]
        field = field.rpartition(".")[0]
    return None


def build_spec(said: dict[str, Any]) -> Spec:
    """The JSON spec of what was said on the command line.

    Raises:
        click.UsageError: Two options exclude each other.
    """
    if said["crop"] and said["focus"]:
        raise click.UsageError("--crop and --focus exclude each other.")
    lap_mm = said["lap"]
    if said["joint"] == "lap" and lap_mm is None:
        lap_mm = USUAL_LAP_MM
    spec = {
        "support": _support(turned(said["support"], said["turn"]), said),
        "crop": _crop(said),
        "rotate_deg": said["rotate"],
        "tone": _tone(said),
        "sheet": _given(format=said["sheet"], margin_mm=_margins(said["margins"])),
        "seams": _given(
            joint=said["joint"] or ("lap" if lap_mm else None),
            lap_mm=lap_mm,
            arrangement=said["arrangement"],
            placement=said["placement"],
            protect=[_area(area) for area in said["protect"]] or None,
        ),
        "print": _given(
            resolution_ppi=said["ppi"],
            mirror=said["mirror"] or None,
            across_correction=said["across_correction"],
            down_correction=said["down_correction"],
            printer=said["printer"],
        ),
        "grid": _grid(said),
    }
    return {name: value for name, value in spec.items() if value not in (None, {})}


def _given(**fields: Any) -> Spec:
    return {name: value for name, value in fields.items() if value is not None}


def _support(size: Size, said: dict[str, Any]) -> Spec:
    return _given(
        width_mm=size.width_mm,
        height_mm=size.height_mm,
        border_mm=said["border"],
        tone=said["support_tone"],
    )


def _tone(said: dict[str, Any]) -> Spec:
    """What is said of lines or of tones says the style too."""
    outline = _given(
        line_mm=said["line"], detail=_single(said["detail"]), shortest_mm=said["shortest"]
    )
    thresholds, count = said["thresholds"], said["tones"]
    if thresholds and count is None:
        count = len(thresholds) + 1
    values = _given(
        count=count,
        thresholds=list(thresholds) if thresholds else None,
        smallest_mm=said["smallest"],
    )
    return _given(
        style=_style(said["style"], lines=bool(outline), flat=bool(values)),
        lighten=_single(said["lighten"]),
        contrast=_single(said["contrast"]),
        outline=outline or None,
        values=values or None,
    )


def _style(style: str | None, *, lines: bool, flat: bool) -> str | None:
    """What is printed; an option that would change nothing of it is refused."""
    if lines and flat:
        raise click.UsageError("Lines or tones? Say --style outline, mixed or values.")
    if lines and style not in {None, "outline", "mixed"}:
        raise click.UsageError(
            "--line, --detail and --shortest are for lines: say --style outline or mixed."
        )
    if flat and style not in {None, "values"}:
        raise click.UsageError(
            "--tones, --thresholds and --smallest are for flat tones: say --style values."
        )
    return style or ("outline" if lines else "values" if flat else None)


def _grid(said: dict[str, Any]) -> Spec | None:
    if said["grid"] is None:
        if said["diagonals"] or said["grid_line"] is not None:
            raise click.UsageError("Say how large the squares are: --grid 5cm.")
        return None
    return _given(
        square_mm=said["grid"], diagonals=said["diagonals"] or None, line_mm=said["grid_line"]
    )


def _crop(said: dict[str, Any]) -> Spec | None:
    if said["focus"]:
        return {"focus": list(said["focus"])}
    return _area(said["crop"]) if said["crop"] else None


def _area(numbers: Iterable[float]) -> Spec:
    return dict(zip(AREA_NAMES, numbers, strict=True))


def _margins(margins: Iterable[float] | None) -> Spec | None:
    if margins is None:
        return None
    return dict(zip(("top", "right", "bottom", "left"), margins, strict=True))


def _single(numbers: tuple[float, ...] | None) -> float | None:
    return numbers[0] if numbers else None
