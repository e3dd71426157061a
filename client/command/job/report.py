"""What the command prints on standard output: a table for people, JSON for scripts.

A plan is read as JSON, as both the service and a job in this process give it, so that one
report fits both.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import click

from client.command.job.sizes import write_size

Plan = dict[str, Any]
_WIDTH = 88
#: A smaller share of line saved from tape is not mentioned.
_LEAST_SAVING = 0.01
_COLUMNS = ("sheet", "page", "from left, top (mm)", "size (mm)", "lies", "beside")


def print_json(document: Any) -> None:
    """One JSON document, readable and complete."""
    click.echo(json.dumps(document, ensure_ascii=False, indent=2))


def print_lines(lines: Iterable[str]) -> None:
    """Lines on standard output."""
    for line in lines:
        click.echo(line)


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Rows in columns as wide as they need."""
    widths = [max(len(row[column]) for row in (head, *rows)) for column in range(len(head))]
    for row in (head, *rows):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip()


def plan_lines(plan: Plan) -> Iterator[str]:
    """A plan for people: sheets, seams, resolution, warnings."""
    yield from summary_lines(plan)
    yield ""
    yield from table(_COLUMNS, [_piece_row(piece) for piece in plan["pieces"]])
    yield ""
    yield from check_lines(plan)
    yield from advice_lines(plan)
    yield from orientation_hint(plan)


def summary_lines(plan: Plan) -> Iterator[str]:
    """The size of the picture and the number of sheets."""
    picture, sheet = plan["picture"], plan["sheet"]
    count = plan["sheet_count"]
    size = write_size(picture["width_mm"], picture["height_mm"])
    each = f"{sheet['width_mm']:g} × {sheet['height_mm']:g} mm"
    grid = f"{_many(plan['rows'], 'row')}, {_many(plan['columns'], 'column')}"
    yield f"Picture of {size} on {_many(count, 'sheet')} of {each} ({grid})."


def check_lines(plan: Plan) -> Iterator[str]:
    """The lengths to measure: on the sheet that is printed first, and on the joined enlargement."""
    tested = plan["sheet_to_test"]
    first = " and ".join(
        f"{check['length_mm']:.1f} ± {check['tolerance_mm']:.1f} mm {check['name']}"
        for check in plan["check_lengths"]
        if check["scope"] == "sheet"
    )
    yield from _wrapped(
        f"Print sheet {tested['label']} (page {tested['page']}) first, at actual size, and measure "
        f"it from cut to cut: {first}."
    )
    if not tested["tells"]:
        yield from _wrapped(
            "On so short a sheet a rule does not show how true the printer is: measure the test "
            "page (ricalco calibrate page), or join the first row and measure it before the rest."
        )
    joined = [check for check in plan["check_lengths"] if check.get("scope") == "joined"]
    if joined:
        lengths = "; ".join(
            f"{check['name']} {check['length_mm']:.1f} ± {check['tolerance_mm']:.1f} mm"
            for check in joined
        )
        yield from _wrapped(f"Measure when joined: {lengths}.")


def advice_lines(plan: Plan) -> Iterator[str]:
    """Line covered by tape, resolution of the photo, ink, and warnings."""
    if plan["seams"] and plan["seam_line_mm"]:
        yield from _wrapped(seam_sentence(plan["seam_line_mm"]))
    resolution = plan["resolution"]
    yield from _wrapped(
        f"Photo: {resolution['reference_ppi']:.0f} pixels per inch at this size. "
        f"{resolution['advice']}"
    )
    yield from grid_lines(plan.get("grid"))
    yield f"Ink: {plan['ink']['mean_coverage']:.0%} of the picture is covered on average."
    yield from framing_lines(plan.get("framing"))
    yield from suggestion_lines(plan["suggestions"])
    # The advice on resolution is printed above already.
    for warning in (each for each in plan["warnings"] if each["detail"] != resolution["advice"]):
        yield from _wrapped(f"Note ({warning['code']}): {warning['detail']}")


def suggestion_lines(suggestions: list[dict[str, Any]]) -> Iterator[str]:
    """Faces to protect and changes that would save sheets, with the options to type for them."""
    for each in suggestions:
        if each["code"] == "protect-face":
            yield from _wrapped(f"Faces: {each['detail']} Say --protect faces.")
        else:
            yield from _wrapped(f"Fewer sheets: {each['detail']} Say {_options(each['change'])}.")


def framing_lines(framing: dict[str, Any] | None) -> Iterator[str]:
    """What the crop does with heads, where it was moved for them or they are not all whole."""
    heads = len(framing["faces"]) if framing else 0
    if not framing or not heads or (framing["whole"] == heads and not framing["moved"]):
        return
    moved = " It was moved off the centre for that." if framing["moved"] else ""
    if framing["whole"] == heads:
        subject = "The head lies" if heads == 1 else f"All {heads} heads lie"
        yield f"Crop: {subject} in it whole.{moved}"
    else:
        yield f"Crop: {framing['whole']} of {_many(heads, 'head')} lie in it whole.{moved}"


def _options(change: dict[str, Any]) -> str:
    """A change of the spec as options."""
    options = [
        f"--{name.replace('_', '-')} {change[name]:g}"
        for name in ("across_correction", "down_correction")
        if name in change
    ]
    if "margin_mm" in change:
        options.append(f"--margins {change['margin_mm']:g}")
    if "width_mm" in change:
        options.append(f"--support {change['width_mm']:.10g}x{change['height_mm']:.10g}mm")
    if "arrangement" in change:
        options.append(f"--arrangement {change['arrangement']}")
    if "format" in change:
        options.append(f"--sheet {change['format']}")
    return " ".join(options)


def grid_lines(grid: dict[str, Any] | None) -> Iterator[str]:
    """The grid, if the job has one; a plan describes possible grids in any case."""
    if grid and grid["square_mm"]:
        squares = f"{_many(grid['columns'], 'column')}, {_many(grid['rows'], 'row')}"
        yield from _wrapped(
            f"Grid: squares of {grid['square_mm']:g} mm ({squares}), "
            f"{grid['enlargement']:.2f} times as large as on the gridded reference."
        )


def orientation_hint(plan: Plan) -> Iterator[str]:
    """A hint when the photo is landscape and the support portrait, or the other way round.

    The photo's proportion is not in the plan; it follows from the crop's share.
    """
    picture, crop = plan["picture"], plan["crop"]
    support = picture["width_mm"] / picture["height_mm"]
    photo = support * crop["height"] / crop["width"]
    if plan["rotate_deg"] == 0 and min(photo, support) < 1 < max(photo, support):
        turn = "--landscape" if photo > support else "--portrait"
        share = crop["width"] * crop["height"]
        yield f"Note: only {share:.0%} of the photo is used; {turn} turns the support."


def seam_sentence(line_mm: dict[str, float]) -> str:
    """How much line to trace tape would cover, and how much the placement of seams saves."""
    chosen_cm, even_cm = line_mm["chosen"] / 10, line_mm["even"] / 10
    sentence = f"Tape along all seams would cover {chosen_cm:.0f} cm of line to trace"
    share = 1 - chosen_cm / even_cm if even_cm > 0 else 0.0
    if share < _LEAST_SAVING:
        return f"{sentence}."
    even = f"along evenly spaced seams it would cover {even_cm:.0f} cm"
    return f"{sentence}; {even} ({share:.0%} is saved)."


def _piece_row(piece: dict[str, Any]) -> tuple[str, ...]:
    rect = piece["picture_rect_mm"]
    beside = [label for labels in piece["neighbours"].values() for label in labels]
    return (
        piece["label"],
        str(piece["page"]),
        f"{rect['left']:.1f}, {rect['top']:.1f}",
        f"{rect['width']:.1f} × {rect['height']:.1f}",
        "turned" if piece["turned_deg"] else "upright",
        " ".join(beside),
    )


def _many(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, subsequent_indent="  ", break_on_hyphens=False)
