"""The items of a batch, read from a table.

A heading is the path of a field of the spec (`support.width_mm`) or a short name for it
(`width_mm`) in any language that there are catalogues in. An unknown heading is refused: that a
width was ignored would be seen on paper only.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from service.classes.tables.roster import heading_of_name
from service.classes.tables.spreadsheet import Row, fold, read_rows
from worker.errors import TableUnreadable
from worker.spec.formats import SHEET_FORMATS
from worker.spec.json import dump_spec
from worker.spec.spec import Grid, Spec, Support
from worker.words.catalogue import words_for
from worker.words.languages import LANGUAGES

Json = dict[str, Any]
#: Columns that are fields of the item, not of the spec.
_OWN = ("student", "reference_id", "title", "note")
#: Fields that have short names, by the keys of these in the catalogues.
_SHORT = {
    "student": "student",
    "reference": "reference_id",
    "title": "title",
    "note": "note",
    "width": "support.width_mm",
    "height": "support.height_mm",
    "border": "support.border_mm",
    "sheet": "sheet.format",
    "style": "tone.style",
    "line": "tone.outline.line_mm",
    "detail": "tone.outline.detail",
    "tones": "tone.values.count",
    "grid": "grid.square_mm",
    "printer": "print.printer",
}


def _said(key: str) -> Iterator[str]:
    """What a key of the catalogues says, in all languages at once: teachers pass tables on."""
    for language in LANGUAGES:
        yield from map(fold, words_for(language)(f"table.{key}").split("|"))


_YES, _NO = {"true", "1", "x", *_said("yes")}, {"false", "0", *_said("no")}


@dataclass(frozen=True)
class Cell:
    """A value of a table as it is written, with its line and heading."""

    line: int
    heading: str
    text: str

    def refused(self, why: str) -> TableUnreadable:
        """The error that says where the value is, what it is, and what is wrong with it."""
        message = f"Line {self.line}, column {self.heading}, value {self.text}: {why}"
        return TableUnreadable(message, line=self.line, field="table")


@dataclass(frozen=True, kw_only=True)
class ItemRequest:
    """One item as it was requested: what differs from the rest of the batch.

    Attributes:
        student: Id or name of a student on the roster; empty: the tutor's own copy.
        spec: Part of a spec, as JSON.
        line: Its line in the table, from 1; None where it came as JSON.
        cells: The cells of its line, by the field that they set.
    """

    student: str = ""
    reference_id: str | None = None
    spec: Json = field(default_factory=dict)
    title: str | None = None
    note: str | None = None
    line: int | None = None
    cells: Mapping[str, Cell] = field(default_factory=dict, compare=False, repr=False)

    def cell_of(self, path: str | None) -> Cell | None:
        """The cell that set a field, or a field of that group; None where no cell did."""
        if path is None:
            return None
        within = (cell for name, cell in self.cells.items() if name.startswith(f"{path}."))
        return self.cells.get(path) or next(within, None)


def read_item_requests(data: bytes | str) -> tuple[ItemRequest, ...]:
    """Read the lines of a table that was typed, pasted or saved by a spreadsheet.

    Raises:
        TableUnreadable: It cannot be parsed, or a heading or value is unknown.
    """
    rows = read_rows(data)
    if not rows:
        raise TableUnreadable("The table is empty.")
    columns = _columns(rows[0])
    if "student" not in columns.values():
        message = "The table needs a heading on its first line, and in it a column Student."
        raise TableUnreadable(message, line=rows[0].line)
    headings = rows[0].cells
    return tuple(_item_request(row, columns, headings) for row in rows[1:])


def _columns(heading: Row) -> dict[int, str]:
    """The field of each column; columns with a heading that begins with # are ignored."""
    found: dict[int, str] = {}
    for column, words in enumerate(heading.cells):
        if not words or words.startswith("#"):
            continue
        name = _FIELDS.get(fold(words)) or ("student" if heading_of_name(words) else None)
        if name is None:
            message = (
                f"The heading {words} is not known. Known are: {', '.join(_known())}. Begin it "
                "with # to have its column left out."
            )
            raise TableUnreadable(message, line=heading.line)
        if name in found.values():
            raise TableUnreadable(f"Two columns are headed {words}.", line=heading.line)
        found[column] = name
    return found


def _item_request(row: Row, columns: dict[int, str], headings: Sequence[str]) -> ItemRequest:
    own: dict[str, str] = {}
    spec: Json = {}
    cells: dict[str, Cell] = {}
    for column, name in columns.items():
        text = row.cells[column] if column < len(row.cells) else ""
        if not text:
            continue
        cells[name] = Cell(row.line, headings[column], text)
        if name in _OWN:
            own[name] = text
        else:
            _put(spec, name, _value(name, cells[name]))
    return ItemRequest(**own, spec=spec, line=row.line, cells=cells)


def _put(spec: Json, path: str, value: Any) -> None:
    *groups, name = path.split(".")
    for group in groups:
        spec = spec.setdefault(group, {})
    spec[name] = value


def _value(name: str, cell: Cell) -> Any:
    """The cell's value in the type of the field."""
    kind, text = type(_LEAVES[name]), cell.text
    if kind is str:
        return _text(name, text)
    if kind is bool:
        if fold(text) in _YES | _NO:
            return fold(text) in _YES
        raise cell.refused("Write yes or no.")
    try:
        number = float(_figures(text))
        return int(number) if kind is int and number.is_integer() else number
    except ValueError:
        raise cell.refused("Write a number.") from None


def _figures(text: str) -> str:
    """A number as text for `float`: decimal comma as point, without the unit, plain digits."""
    plain = unicodedata.normalize("NFKC", text).casefold().replace(",", ".")
    return plain.removesuffix("mm").strip()


def _text(name: str, text: str) -> str:
    """A keyword of the spec in lower case; a printer's name as it is written."""
    if name == "sheet.format":
        return _format(text)
    return text if name == "print.printer" else text.casefold()


def _format(text: str) -> str:
    """A sheet format by its PWG name or by its title."""
    titles = {fold(known.title): name for name, known in SHEET_FORMATS.items()}
    return titles.get(fold(text), text)


def _leaves(document: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    for name, value in document.items():
        if isinstance(value, Mapping):
            yield from _leaves(value, f"{above}{name}.")
        elif isinstance(value, str | bool | int | float):
            yield f"{above}{name}", value


def _known() -> list[str]:
    return [*_OWN, *_LEAVES]


#: Every field of a spec that fits into one cell, with a value of its type.
_LEAVES = dict(
    _leaves(dump_spec(Spec(support=Support(width_mm=1, height_mm=1), grid=Grid(square_mm=1))))
)
_FIELDS = {fold(name): name for name in _known()} | {
    heading: name
    for key, name in _SHORT.items()
    for short in _said(key)
    for heading in ((short, f"{short} mm") if name.endswith("_mm") else (short,))
}
