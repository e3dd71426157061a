"""Rosters as spreadsheets write them and people paste them."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.classes.tables.csv_writer import write_table
from service.classes.tables.roster import MAX_STUDENTS, read_roster
from tests.folded import fold
from worker.errors import TableUnreadable

SCRIPTS = (
    "Amélie Dvořáková",
    "ليلى بن يوسف",
    "王小明",
    "प्रिया शर्मा",
    "נועה לוי",
    "Ngọc Ánh Trần",
    "Олена Шевченко",
    "👩🏽‍🎨 Kit",
    "می‌رویم رضا",
)


def names(data: bytes | str) -> list[str]:
    return [student.name for student in read_roster(data)]


@fold(
    ("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"]),
    ("ending", ["\n", "\r\n"]),
    ("sign", [",", ";", "\t"]),
)
def test_any_script_in_any_encoding_with_any_sign(encoding: str, ending: str, sign: str) -> None:
    rows = ["Nr", "Name", "E-Mail"], *([i, name, "a@b.example"] for i, name in enumerate(SCRIPTS))
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=sign, lineterminator=ending).writerows(rows)
    assert names(text.getvalue().encode(encoding)) == list(SCRIPTS)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Ada Okafor\nBen Ruiz", ["Ada Okafor", "Ben Ruiz"]),
        ("\n  Ada Okafor \n\n\tBen Ruiz\n\n", ["Ada Okafor", "Ben Ruiz"]),
        ("1. Ada Okafor\n2) Ben Ruiz\n- Cleo\n• Dai", ["Ada Okafor", "Ben Ruiz", "Cleo", "Dai"]),
        ("Okafor, Ada\nRuiz, Ben", ["Okafor, Ada", "Ruiz, Ben"]),
        ('Name\n"Okafor, Ada"\n"Ruiz, Ben ""Benny"""', ["Okafor, Ada", 'Ruiz, Ben "Benny"']),
        ("Ada\tOkafor\nBen\tRuiz", ["Ada Okafor", "Ben Ruiz"]),
        ("Nachname;Vorname;Klasse\nMüller;Jörg;7b\nÖzil;Ayşe;7b", ["Jörg Müller", "Ayşe Özil"]),
        ("Prénom,Nom,Né le\nÉlodie,Lê,03/04/2011", ["Élodie Lê"]),
        ("Nr;Name;Vorname\n1;Müller;Jörg\n2;Özil;Ayşe", ["Jörg Müller", "Ayşe Özil"]),
        ("Surname,Name\nOkafor,Ada\n,Madonna", ["Ada Okafor", "Madonna"]),
        ("Name,First name\nAda Okafor,Ada\nRuiz Ben,Ben", ["Ada Okafor", "Ruiz Ben"]),
        ("Full name,Surname\nAda,Okafor", ["Ada"]),
        ("FIRST NAME ; LAST NAME\nAda;Okafor", ["Ada Okafor"]),
        ("学号,姓名\n2024001,王小明\n2024002,李雷", ["王小明", "李雷"]),
        ("12,Ada Okafor,ada@school.example\n13,Ben Ruiz,", ["Ada Okafor", "Ben Ruiz"]),
        ("Leerlingnummer;Wie\n17;Ada Okafor\n18;Ben Ruiz", ["Ada Okafor", "Ben Ruiz"]),
        ("sep=;\nName;Nr\nAda;1", ["Ada"]),
        ("sep=,\r\nName,Nr\r\nAda,1\r\n", ["Ada"]),
        ("Name\nAda\u00a0Okafor\u200e", ["Ada Okafor"]),
        ("Name,Group\n'=Ada,x", ["=Ada"]),
        ('Name;Note\n"Ada\nOkafor";x', ["Ada Okafor"]),
        ("X Æ A-12\nBen 2", ["X Æ A-12", "Ben 2"]),
        ("👩🏽‍🎨\n🐟", ["👩🏽‍🎨", "🐟"]),
    ],
)
def test_lists_as_people_have_them(text: str, found: list[str]) -> None:
    assert names(text) == found
    assert names(text.encode()) == found


def test_western_code_page_is_read_where_it_makes_words() -> None:
    text = "Name;Ort\r\nJörg Müller;Köln\r\nÉlodie Lefèvre;Orléans\r\n"
    assert names(text.encode("windows-1252")) == ["Jörg Müller", "Élodie Lefèvre"]


@pytest.mark.parametrize(
    ("data", "line", "told"),
    [
        ("", None, "empty"),
        ("\n \n", None, "empty"),
        ("Name\n", None, "no names"),
        ("Name;Nr\nAda;1\n;2\n", 3, "has no name"),
        ("Name\nAda\n12345\n", 3, "is no name"),
        ("Name\nAda\nBen\nADA\n", 4, "Lines 2 and 4"),
        ("Name\nAda\u0301\nAd\u00e1\n", 3, "Lines 2 and 3"),
        ('Name;Nr\nAda;1\n"Ben;2\n', 3, "quotation"),
        ('Name;Nr\nAda;1\n"Ben" Ruiz;2\n', 3, "quotation"),
        ("a;b;c\nd;e;f\n", 1, "3 columns of words"),
        ("1;2\n3;4\n", 1, "No column"),
        ("Name\n" + "x" * 121, 2, "longer"),
        ("Жюль\nФилипп\n".encode("windows-1251"), 1, "UTF-8"),
        (b"Name\nAda\n\xff\xfe\x81\n", 3, "UTF-8"),
        (b"PK\x03\x04rest", None, "no CSV"),
        (b"\xd0\xcf\x11\xe0rest", None, "no CSV"),
        ("Name\nA\0da\n", 2, "no text"),
        ("\n".join(f"Student {i}" for i in range(MAX_STUDENTS + 1)), None, "at most"),
        ("a" * 1_000_001, None, "too large"),
        (b"a" * 1_000_001, None, "too large"),
        ("," * 100, 1, "columns"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(
    data: bytes | str, line: int | None, told: str
) -> None:
    with pytest.raises(TableUnreadable, match=told) as raised:
        read_roster(data)
    assert raised.value.line == line


@given(st.text(max_size=300) | st.binary(max_size=300))
def test_any_input_is_read_or_refused(data: bytes | str) -> None:
    try:
        found = read_roster(data)
    except TableUnreadable:
        return
    assert all(student.name for student in found)


@pytest.mark.parametrize("name", [*SCRIPTS, "=cmd|' /C calc'!A0", "+1 Ada", "-Ben", "@Cleo"])
def test_names_survive_a_table_and_back(name: str) -> None:
    data = b"".join(write_table(("Name", "Sheets"), [(name, 6)]))
    assert names(data) == [name]
