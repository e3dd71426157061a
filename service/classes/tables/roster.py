"""Reads students' names from a list that was typed, pasted or saved by a spreadsheet.

A list of one name a line needs no heading. In a table the names are in the column with such a
heading, or in the only column of words; numbers, e-mail addresses and dates are not names.
What is ambiguous is refused with an error that says how to make it clear.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from service.classes.tables.spreadsheet import Row, fold, read_rows
from service.http.schemas import MAX_NAME_LETTERS
from worker.errors import TableUnreadable

MAX_STUDENTS = 400
#: How many letters of a name that is too long an error shows.
SHOWN_LETTERS = 40
#: Headings by the kind of column, in several languages; common practice of school lists.
_HEADINGS = {
    "name": (
        "name|full name|student|student name|pupil|display name|nom complet|nom et prénom|"
        "élève|étudiant|schüler|schülerin|teilnehmer|teilnehmerin|nombre completo|alumno|alumna|"
        "estudiante|nome completo|alunno|studente|aluno|naam|leerling|navn|namn|nimi|jméno|név|"
        "ad soyad|имя|фио|ученик|όνομα|الاسم|اسم|نام|שם|שם מלא|नाम|姓名|名字|氏名|名前|이름|ชื่อ"
    ),
    "given": (
        "first name|first|firstname|given name|given names|forename|prénom|vorname|rufname|"
        "nombre|nombres|nome|voornaam|fornavn|förnamn|etunimi|imię|ad|الاسم الأول|שם פרטי|名"
    ),
    "family": (
        "last name|last|lastname|surname|family name|nom|nom de famille|nachname|familienname|"
        "apellido|apellidos|cognome|sobrenome|achternaam|etternavn|efternamn|sukunimi|nazwisko|"
        "příjmení|soyad|фамилия|επώνυμο|اسم العائلة|שם משפחה|姓"
    ),
}
_KIND_OF = {fold(heading): kind for kind, all_ in _HEADINGS.items() for heading in all_.split("|")}
#: Headings of whole names that also occur over half of a name, beside a column for the rest.
_BARE = frozenset({"name", "naam", "navn", "namn"})
_EMAIL = re.compile(r"\S+@\S+")
#: Numbering and bullets before a pasted name: `1. `, `12) `, `- `, `• `.
_COUNTED = re.compile(r"^(?:\d{1,3}\s*[.):]\s+|[-–—*•·▪]\s+)")


@dataclass(frozen=True)
class Student:
    """A name in the list, with its line."""

    name: str
    line: int


def read_roster(data: bytes | str) -> tuple[Student, ...]:
    """Read the students of a class, in the order of the list.

    Args:
        data: A file's bytes, or text that was pasted or typed.

    Raises:
        TableUnreadable: It has no names, no clear column of names, a line without a name, or
            one name twice; gives the line.
    """
    rows = read_rows(data)
    if not rows:
        raise TableUnreadable("The list is empty: write one name a line.")
    students = tuple(_students(rows))
    if not students:
        raise TableUnreadable("The list has a heading and no names.")
    if len(students) > MAX_STUDENTS:
        message = f"The list has {len(students)} names; a class has at most {MAX_STUDENTS}."
        raise TableUnreadable(message)
    _refuse_doubles(students)
    return students


def heading_of_name(words: str) -> bool:
    """Whether this is the heading of a column of names."""
    return _KIND_OF.get(fold(words)) == "name"


def clean_name(text: str) -> str:
    """A name without control characters or repeated blanks, composed (NFC).

    Joiners stay: some scripts' letters, and emoji, change without them.
    """
    kept = (" " if letter.isspace() else letter for letter in text if _has_place(letter))
    return " ".join(unicodedata.normalize("NFC", "".join(kept)).split())


def is_name(text: str) -> bool:
    """Whether it has a letter or an emoji, and is not too long."""
    named = any(unicodedata.category(letter)[0] == "L" or _pictured(letter) for letter in text)
    return named and len(text) <= MAX_NAME_LETTERS


def _students(rows: list[Row]) -> Iterator[Student]:
    columns, joint, first = _columns(rows)
    for row in rows[first:]:
        cells = [row.cells[column] for column in columns if column < len(row.cells)]
        name = clean_name(joint.join(filter(None, cells)))
        name = _COUNTED.sub("", name) if len(columns) == 1 else name
        if not is_name(name):
            heading = joint.join(rows[0].cells[column] for column in columns) if first else ""
            raise TableUnreadable(_no_name(row, name, heading), line=row.line)
        yield Student(name, row.line)


def _no_name(row: Row, name: str, heading: str) -> str:
    place = f"Line {row.line}, column {heading}" if heading else f"Line {row.line}"
    if not name:
        return f"{place} has no name."
    if len(name) > MAX_NAME_LETTERS:
        shown = name[:SHOWN_LETTERS]
        return f"{place}: the name {shown}… is longer than {MAX_NAME_LETTERS} letters."
    return f"{place}: {name} is no name."


def _columns(rows: list[Row]) -> tuple[tuple[int, ...], str, int]:
    """The columns that make up the name, what joins them, and the first row with a student."""
    headed = [_KIND_OF.get(fold(cell), "") for cell in rows[0].cells]
    if "name" in headed:
        # Beside a first name, `nom` or `nombre` may also head the whole.
        return _half_or_whole(rows, headed), " ", 1
    named = tuple(headed.index(kind) for kind in ("given", "family") if kind in headed)
    if named:
        return named, " ", 1
    first = 1 if _looks_headed(rows) else 0
    words = _columns_of_words(rows[first:] or rows)
    if len(words) == 1:
        return words, " ", first
    if len(words) == 2 and not first:  # noqa: PLR2004 - family and given name, as they stand.
        # `Okafor, Ada` is kept as it was written.
        return words, ", " if rows[0].comma else " ", first
    if not words:
        raise TableUnreadable("No column of the list holds names.", line=rows[0].line)
    message = (
        f"The list has {len(words)} columns of words: write Name over the one with the names, "
        "or First name and Last name over two."
    )
    raise TableUnreadable(message, line=rows[0].line)


def _half_or_whole(rows: list[Row], headed: list[str]) -> tuple[int, ...]:
    """`Name` has the whole name or, beside `Vorname` or `Surname`, only the other half."""
    name, halves = headed.index("name"), {"given", "family"} & set(headed)
    if len(halves) != 1 or fold(_cell(rows[0], name)) not in _BARE:
        return (name,)
    (half,) = halves
    other = headed.index(half)
    if all(fold(_cell(row, other)) in fold(_cell(row, name)) for row in rows[1:]):
        return (name,)
    return (other, name) if half == "given" else (name, other)


def _looks_headed(rows: list[Row]) -> bool:
    """Whether the first row has words over a column that has only figures or addresses below."""
    below = rows[1:]
    if not below:
        return False
    return any(
        _is_word(cell) and _all_figures([_cell(row, column) for row in below])
        for column, cell in enumerate(rows[0].cells)
    )


def _all_figures(cells: list[str]) -> bool:
    written = [cell for cell in cells if cell]
    return bool(written) and not any(_is_word(cell) for cell in written)


def _columns_of_words(rows: list[Row]) -> tuple[int, ...]:
    """The columns in which more than half of the filled cells are words."""
    widest = max(len(row.cells) for row in rows)
    found = []
    for column in range(widest):
        written = [cell for row in rows if (cell := _cell(row, column))]
        if sum(map(_is_word, written)) * 2 > len(written):
            found.append(column)
    return tuple(found)


def _cell(row: Row, column: int) -> str:
    return row.cells[column] if column < len(row.cells) else ""


def _is_word(cell: str) -> bool:
    """Whether a cell is letters or emoji, and neither an address nor mostly digits."""
    if not cell or _EMAIL.search(cell):
        return False
    figures = sum(letter.isdigit() for letter in cell)
    named = sum(letter.isalpha() or _pictured(letter) for letter in cell)
    return named > figures


def _pictured(letter: str) -> bool:
    """Whether this is an emoji or another symbol that a person may use as a name."""
    return unicodedata.category(letter) == "So"


def _has_place(letter: str) -> bool:
    kind = unicodedata.category(letter)
    joiner = letter in "\u200c\u200d"
    return letter.isspace() or joiner or kind not in {"Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"}


def _refuse_doubles(students: tuple[Student, ...]) -> None:
    """Refuse equal names: the students could not be distinguished when they join."""
    seen: dict[str, int] = {}
    for student in students:
        name = fold(student.name) or student.name
        if name in seen:
            message = (
                f"Lines {seen[name]} and {student.line} have the same name, {student.name}: add "
                "an initial, so that both can be told apart."
            )
            raise TableUnreadable(message, line=student.line)
        seen[name] = student.line
