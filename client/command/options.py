"""The options that describe a job, shared by `make`, `plan` and `send`.

They are gathered into the JSON spec of the contract, with only what was said in it: every
default stays where it is defined, in `worker.contract`, and the same document goes to the
service or to the making in process.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

import click

from client.command.names import read_sheet, read_support
from client.command.sizes import Size, read_length, turned
from worker.errors import SizeUnreadable

Spec = dict[str, Any]
Decorated = TypeVar("Decorated", bound=Callable[..., Any])

#: Printers' margins in mm: top, right, bottom, left (common practice).
MARGINS = {"tight": (5.0, 5.0, 5.0, 5.0), "safe": (10.0, 10.0, 18.0, 10.0)}
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
    "title": "--title",
}


def option_of(field: str | None) -> str | None:
    """The option that sets a field of the spec, or the nearest that encloses it."""
    while field:
        if field in OPTION_OF:
            return OPTION_OF[field]
        field = field.rpartition(".")[0]
    return None


def shares(*names: str) -> Callable[[str], tuple[float, ...]]:
    """A reader of one number for each name, as shares (0.4) or in percent (40%)."""

    def read(text: str) -> tuple[float, ...]:
        try:
            found = tuple(_share(word) for word in text.split(","))
        except ValueError:
            found = ()
        if len(found) != len(names):
            message = f"'{text}' is not {','.join(names)} as shares (0.4) or percent (40%)."
            raise click.BadParameter(message)
        return found

    return read


def _share(word: str) -> float:
    text = word.strip()
    return _finite(text[:-1]) / 100 if text.endswith("%") else _finite(text)


def _finite(text: str) -> float:
    """A number; Python also reads `nan` and `inf`, which JSON has no words for."""
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(text)
    return number


def number(text: str) -> float:
    """A number, or a usage error."""
    try:
        return _finite(text)
    except ValueError:
        raise click.BadParameter(f"'{text}' is no number.") from None


def read_margins(text: str) -> tuple[float, ...]:
    """`tight`, `safe`, or four lengths in mm: top, right, bottom, left.

    Raises:
        SizeUnreadable: None of these.
    """
    if text.strip().lower() in MARGINS:
        return MARGINS[text.strip().lower()]
    words = [word.strip() for word in text.split(",")]
    try:
        margins = tuple(_finite(word.removesuffix("mm")) for word in words)
    except ValueError:
        margins = ()
    if len(margins) != len(MARGINS["tight"]):
        message = f"'{text}' is no set of margins: tight, safe, or four mm figures as 5,5,18,5."
        raise SizeUnreadable(message, field="sheet.margin_mm")
    return margins


_AREA_NAMES = ("left", "top", "width", "height")
_AREA = shares(*_AREA_NAMES)
_SHARE = shares("share")
_OPTIONS: tuple[Any, ...] = (
    click.option(
        "--support",
        type=read_support,
        metavar="SIZE",
        required=True,
        help="What is drawn on: 60x40cm, 22x30in, '594 x 420 mm', a3, imperial. "
        "Numbers need a unit; width comes first; names are upright unless turned.",
    ),
    click.option(
        "--landscape", "turn", flag_value="landscape", help="Turn the support on its side."
    ),
    click.option("--portrait", "turn", flag_value="portrait", help="Stand the support upright."),
    click.option(
        "--border",
        type=read_length,
        metavar="LENGTH",
        help="Blank border left on every side of the support, as 2cm.",
    ),
    click.option(
        "--support-tone",
        type=click.Choice(["light", "mid", "dark"]),
        help="How dark the support is: chooses the transfer paper.",
    ),
    click.option(
        "--crop", type=_AREA, metavar=",".join(_AREA_NAMES), help="Part of the photo that is drawn."
    ),
    click.option(
        "--focus",
        type=shares("x", "y"),
        metavar="x,y",
        help="Take the largest crop near this point.",
    ),
    click.option("--rotate", type=number, metavar="DEGREES", help="Turn the picture clockwise."),
    click.option(
        "--style", type=click.Choice(["grey", "colour"]), help="How it is printed (default: grey)."
    ),
    click.option(
        "--lighten",
        type=_SHARE,
        metavar="SHARE",
        help="0 prints as is, 1 nothing: spares ink.",
    ),
    click.option(
        "--contrast",
        type=_SHARE,
        metavar="SHARE",
        help="-1 is flat, 0 as is, 1 strongest.",
    ),
    click.option(
        "--sheet",
        type=read_sheet,
        metavar="NAME",
        help="What the printer takes: a4 (default), letter, a3, or a PWG 5101.1 name.",
    ),
    click.option(
        "--margins",
        type=read_margins,
        metavar="MARGINS",
        help="What the printer cannot print: tight (5 mm all round, the default), safe (10 mm, "
        "18 at the bottom), or top,right,bottom,left in mm.",
    ),
    click.option("--joint", type=click.Choice(["butt", "lap"]), help="Edge to edge, or lapped."),
    click.option(
        "--lap",
        type=read_length,
        metavar="LENGTH",
        help="How far a piece lies under its neighbour; implies --joint lap (10mm there).",
    ),
    click.option(
        "--arrangement",
        type=click.Choice(["aligned", "staggered"]),
        help="Seams run through, or are chosen anew in each row or column.",
    ),
    click.option(
        "--placement",
        type=click.Choice(["quiet", "even"]),
        help="Seams look for little detail, or split evenly.",
    ),
    click.option(
        "--protect",
        type=_AREA,
        metavar=",".join(_AREA_NAMES),
        multiple=True,
        help="Area of the picture that no seam may cross, in shares; may be repeated.",
    ),
    click.option(
        "--ppi", type=number, metavar="NUMBER", help="Pixels per inch that are printed at the most."
    ),
    click.option("--mirror", is_flag=True, help="Print mirrored, to transfer face down."),
    click.option(
        "--across-correction",
        type=number,
        metavar="FACTOR",
        help="Nominal ÷ measured, across the page.",
    ),
    click.option(
        "--down-correction",
        type=number,
        metavar="FACTOR",
        help="Nominal ÷ measured, down the page.",
    ),
)


def spec_options(command: Decorated) -> Decorated:
    """Give a command all options of a job; they arrive as keyword arguments."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


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
        "tone": _given(
            style=said["style"],
            lighten=_single(said["lighten"]),
            contrast=_single(said["contrast"]),
        ),
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
        ),
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


def _crop(said: dict[str, Any]) -> Spec | None:
    if said["focus"]:
        return {"focus": list(said["focus"])}
    return _area(said["crop"]) if said["crop"] else None


def _area(numbers: Iterable[float]) -> Spec:
    return dict(zip(_AREA_NAMES, numbers, strict=True))


def _margins(margins: Iterable[float] | None) -> Spec | None:
    if margins is None:
        return None
    return dict(zip(("top", "right", "bottom", "left"), margins, strict=True))


def _single(numbers: tuple[float, ...] | None) -> float | None:
    return numbers[0] if numbers else None
