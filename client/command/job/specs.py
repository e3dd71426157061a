"""Options of the command line as the JSON spec of the API.

Only options that were given are in it: defaults are defined in `worker.spec.json` alone. The
same document goes to a service or to a job in this process.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import click

from client.command.job.option_values import FACES
from client.command.job.sizes import Size, turned

Spec = dict[str, Any]

AREA_NAMES = ("left", "top", "width", "height")
#: A lap that a glue stick holds (common practice), for `--joint lap` without `--lap`.
DEFAULT_LAP_MM = 10.0
#: The option that sets each field of the spec, for messages about that field.
OPTION_OF = {
    "support": "--support",
    "support.border_mm": "--border",
    "support.tone": "--support-tone",
    "support.medium": "--medium",
    "crop": "--crop",
    "crop.focus": "--focus",
    "rotate_deg": "--rotate",
    "tone.style": "--style",
    "tone.full_strength": "--full-strength",
    "tone.lighten": "--lighten",
    "tone.lift": "--lift",
    "tone.contrast": "--contrast",
    "tone.outline.line_mm": "--line",
    "tone.outline.detail": "--detail",
    "tone.outline.shortest_mm": "--shortest",
    "tone.outline.shadows": "--shadow-edges",
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
    "seams.register_marks": "--no-register-marks",
    "seams.within_mm": "--within",
    "print.resolution_ppi": "--ppi",
    "print.mirror": "--mirror",
    "print.black_only": "--black-only",
    "print.across_correction": "--across-correction",
    "print.down_correction": "--down-correction",
    "print.printer": "--printer",
    "language": "--language",
    "across_mm": "--across",
    "down_mm": "--down",
    "margin_mm": "--margins",
    "title": "--title",
    "corners": "--corners",
    "proportion": "--proportion",
}


def option_of(field: str | None) -> str | None:
    """The option that sets a field of the spec, or the nearest field that encloses it."""
    while field:
        if field in OPTION_OF:
            return OPTION_OF[field]
        field = field.rpartition(".")[0]
    return None


def build_spec(options: dict[str, Any]) -> Spec:
    """The JSON spec of a command's options.

    Raises:
        click.UsageError: Two options exclude each other.
    """
    if options["crop"] and options["focus"]:
        raise click.UsageError("--crop and --focus exclude each other.")
    lap_mm = options["lap"]
    if options["joint"] == "lap" and lap_mm is None:
        lap_mm = DEFAULT_LAP_MM
    spec = {
        "support": _support(turned(options["support"], options["turn"]), options),
        "crop": _crop(options),
        "rotate_deg": options["rotate"],
        "tone": _tone(options),
        "sheet": _given(format=options["sheet"], margin_mm=_margins(options["margins"])),
        "seams": _given(
            joint=options["joint"] or ("lap" if lap_mm else None),
            lap_mm=lap_mm,
            arrangement=options["arrangement"],
            placement=options["placement"],
            within_mm=options["within"],
            protect=[_area(area) for area in options["protect"] if area != FACES] or None,
            register_marks=False if options["no_register_marks"] else None,
        ),
        "print": _given(
            resolution_ppi=options["ppi"],
            mirror=options["mirror"] or None,
            black_only=options["black_only"] or None,
            across_correction=options["across_correction"],
            down_correction=options["down_correction"],
            printer=options["printer"],
        ),
        "grid": _grid(options),
        "language": options["language"],
    }
    return {name: value for name, value in spec.items() if value not in (None, {})}


def wants_faces(options: dict[str, Any]) -> bool:
    """Whether faces are to be protected, which only a plan knows of."""
    return FACES in options["protect"]


def with_faces(spec: Spec, plan: dict[str, Any]) -> Spec:
    """The spec with what its plan offers to protect of faces; tells how many there are."""
    offers = [each for each in plan["suggestions"] if each["code"] == "protect-face"]
    if not offers:
        click.echo("No face is found for seams to spare; nothing is added to protect.", err=True)
        return spec
    count = len(offers[0]["faces"])
    click.echo(f"Protected: {count} face{'' if count == 1 else 's'}.", err=True)
    seams = spec.get("seams", {})
    protect = [*seams.get("protect", []), *offers[0]["change"]["protect"]]
    return {**spec, "seams": {**seams, "protect": protect}}


def _given(**fields: Any) -> Spec:
    return {name: value for name, value in fields.items() if value is not None}


def _support(size: Size, options: dict[str, Any]) -> Spec:
    return _given(
        width_mm=size.width_mm,
        height_mm=size.height_mm,
        border_mm=options["border"],
        tone=options["support_tone"],
        medium=options["medium"],
    )


def _tone(options: dict[str, Any]) -> Spec:
    """The tone of a spec; options of lines or of flat tones imply the style."""
    outline = _given(
        line_mm=options["line"],
        detail=_single(options["detail"]),
        shortest_mm=options["shortest"],
        shadows=options["shadow_edges"],
    )
    thresholds, count = options["thresholds"], options["tones"]
    if thresholds and count is None:
        count = len(thresholds) + 1
    values = _given(
        count=count,
        thresholds=list(thresholds) if thresholds else None,
        smallest_mm=options["smallest"],
    )
    return _given(
        style=_style(options["style"], lines=bool(outline), flat=bool(values)),
        full_strength=options["full_strength"] or None,
        lighten=_single(options["lighten"]),
        lift=_single(options["lift"]),
        contrast=_single(options["contrast"]),
        outline=outline or None,
        values=values or None,
    )


def _style(style: str | None, *, lines: bool, flat: bool) -> str | None:
    """The style, given or implied; an option that has no effect with it is refused."""
    if lines and flat:
        raise click.UsageError("Lines or tones? Say --style outline, mixed or values.")
    if lines and style not in {None, "outline", "mixed"}:
        raise click.UsageError(
            "--line, --detail, --shortest and --shadow-edges are for lines: say --style outline "
            "or mixed."
        )
    if flat and style not in {None, "values"}:
        raise click.UsageError(
            "--tones, --thresholds and --smallest are for flat tones: say --style values."
        )
    return style or ("outline" if lines else "values" if flat else None)


def _grid(options: dict[str, Any]) -> Spec | None:
    if options["grid"] is None:
        if options["diagonals"] or options["grid_line"] is not None:
            raise click.UsageError("Say how large the squares are: --grid 5cm.")
        return None
    return _given(
        square_mm=options["grid"],
        diagonals=options["diagonals"] or None,
        line_mm=options["grid_line"],
    )


def _crop(options: dict[str, Any]) -> Spec | None:
    if options["focus"]:
        return {"focus": list(options["focus"])}
    return _area(options["crop"]) if options["crop"] else None


def _area(numbers: Iterable[float]) -> Spec:
    return dict(zip(AREA_NAMES, numbers, strict=True))


def _margins(margins: Iterable[float] | None) -> Spec | None:
    if margins is None:
        return None
    return dict(zip(("top", "right", "bottom", "left"), margins, strict=True))


def _single(numbers: tuple[float, ...] | None) -> float | None:
    return numbers[0] if numbers else None
