"""The options that describe a job, shared by `make`, `plan` and `send`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from client.command.job.corner_options import parse_proportion
from client.command.job.language_option import LANGUAGE_OPTION
from client.command.job.option_values import (
    parse_line_weight,
    parse_margins,
    parse_number,
    parse_share_list,
    protect_parser,
    shares_parser,
)
from client.command.job.size_names import read_sheet, read_support
from client.command.job.sizes import read_length
from client.command.job.specs import AREA_NAMES

Decorated = TypeVar("Decorated", bound=Callable[..., Any])

_AREA = shares_parser(*AREA_NAMES)
_SHARE = shares_parser("share")
STYLES = ("grey", "colour", "outline", "mixed", "values")
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
        "--medium",
        type=click.Choice(["graphite", "coloured-pencil", "pastel", "paint", "other"]),
        help="What you draw with (pastel: charcoal too): decides method and cautions in the guide.",
    ),
    click.option(
        "--crop", type=_AREA, metavar=",".join(AREA_NAMES), help="Part of the photo that is drawn."
    ),
    click.option(
        "--focus",
        type=shares_parser("x", "y"),
        metavar="x,y",
        help="Take the largest crop near this point.",
    ),
    click.option(
        "--accept-damaged",
        is_flag=True,
        help="Take what can be read of a damaged photo as it is.",
    ),
    click.option(
        "--corners",
        type=shares_parser(*"xyxyxyxy"),
        metavar="x,y,x,y,x,y,x,y",
        help="Square up first: the corners of a picture or sketch in the photo, in shares of "
        "it, in any order. All other shares are then of the squared picture.",
    ),
    click.option(
        "--proportion",
        type=parse_proportion,
        metavar="W:H",
        help="With --corners: width to height, as 3:2 or 1.5 (default: estimated).",
    ),
    click.option(
        "--rotate", type=parse_number, metavar="DEGREES", help="Turn the picture clockwise."
    ),
    click.option(
        "--style",
        type=click.Choice(STYLES),
        help="How it is printed: grey (default), colour, lines to trace (outline), lines over a "
        "pale grey (mixed), or a few flat tones (values).",
    ),
    click.option(
        "--full-strength",
        is_flag=True,
        help="For grey: print black as black. Otherwise it takes 65 % of the ink, so that a pen "
        "line can be seen on it.",
    ),
    click.option(
        "--lighten",
        type=_SHARE,
        metavar="SHARE",
        help="0 prints as the style does, 1 nothing: spares ink.",
    ),
    click.option(
        "--lift",
        type=_SHARE,
        metavar="SHARE",
        help="0 leaves blacks as they are, 1 lifts them most, only around contours that would "
        "drown in them; for grey, colour and mixed.",
    ),
    click.option(
        "--contrast",
        type=_SHARE,
        metavar="SHARE",
        help="-1 is flat, 0 as is, 1 strongest.",
    ),
    click.option(
        "--line",
        type=parse_line_weight,
        metavar="MM",
        help="Weight of lines: 0.35 (default) or another step of drawing pens; implies "
        "--style outline.",
    ),
    click.option(
        "--detail",
        type=_SHARE,
        metavar="SHARE",
        help="0 draws silhouettes, 0.5 contours (default), 1 everything, texture too; implies "
        "--style outline.",
    ),
    click.option(
        "--shortest",
        type=read_length,
        metavar="LENGTH",
        help="Lines shorter than this are left out (4mm); implies --style outline.",
    ),
    click.option(
        "--shadow-edges",
        type=click.Choice(["none", "light", "dashed"]),
        help="Edges of shadows: not drawn (none, the default), as thin lines, or dashed; implies "
        "--style outline.",
    ),
    click.option(
        "--tones",
        type=int,
        metavar="NUMBER",
        help="Flat tones, 3 to 7 (5); implies --style values.",
    ),
    click.option(
        "--thresholds",
        type=parse_share_list,
        metavar="SHARES",
        help="Where one tone ends and the next begins, from black 0 to white 1, as 0.2,0.5,0.8; "
        "found in the photo by default.",
    ),
    click.option(
        "--smallest",
        type=read_length,
        metavar="LENGTH",
        help="No patch of a tone is narrower than this (2mm); implies --style values.",
    ),
    click.option(
        "--grid",
        type=read_length,
        metavar="LENGTH",
        help="Squares over the picture, as 5cm, and two pages to draw by eye from.",
    ),
    click.option("--diagonals", is_flag=True, help="With --grid: diagonals in every square."),
    click.option(
        "--grid-line",
        type=parse_line_weight,
        metavar="MM",
        help="With --grid: weight of its lines (0.18).",
    ),
    click.option(
        "--sheet",
        type=read_sheet,
        metavar="NAME",
        help="What the printer takes: a4 (default), letter, a3, or a PWG 5101.1 name.",
    ),
    click.option(
        "--margins",
        type=parse_margins,
        metavar="MARGINS",
        help="What the printer cannot print: tight (5 mm all round, the default), safe (10 mm, "
        "18 at the bottom), one figure in mm for all, or top,right,bottom,left.",
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
        type=protect_parser(*AREA_NAMES),
        metavar=f"faces|{','.join(AREA_NAMES)}",
        multiple=True,
        help="What no seam may cross: the faces that are found, or an area of the picture in "
        "shares; may be repeated.",
    ),
    click.option(
        "--no-register-marks",
        is_flag=True,
        help="Leave out the small marks across the seams that show how true they are joined.",
    ),
    click.option(
        "--within",
        type=read_length,
        metavar="LENGTH",
        help="What the joined picture may be off in 60 cm (1mm); what is measured on the way is "
        "held to it.",
    ),
    click.option(
        "--ppi",
        type=parse_number,
        metavar="NUMBER",
        help="Pixels per inch that are printed at the most.",
    ),
    click.option("--mirror", is_flag=True, help="Print mirrored, to transfer face down."),
    click.option(
        "--black-only",
        is_flag=True,
        help="Map, guide and grid in black alone; a picture in colour keeps its colours.",
    ),
    click.option(
        "--across-correction",
        type=parse_number,
        metavar="FACTOR",
        help="Nominal ÷ measured, across the page.",
    ),
    click.option(
        "--down-correction",
        type=parse_number,
        metavar="FACTOR",
        help="Nominal ÷ measured, down the page.",
    ),
    click.option(
        "--printer",
        metavar="NAME",
        help="What you call the printer that the corrections are for; stated on the pack.",
    ),
    LANGUAGE_OPTION,
)


def spec_options(command: Decorated) -> Decorated:
    """Give a command all options of a job; they arrive as keyword arguments."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command
