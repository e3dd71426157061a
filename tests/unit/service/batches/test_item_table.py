"""Tables of overrides: read exactly, or refused with a line."""

from __future__ import annotations

import json
import re

import pytest

from client.web import FOLDER
from service.batches.item_table import ItemRequest, read_item_requests
from worker.errors import TableUnreadable
from worker.spec.json import load_spec
from worker.words.catalogue import catalogue
from worker.words.languages import FOLDER as PRINTED
from worker.words.languages import LANGUAGES

#: Headings in the contract's own words.
CONTRACT = "support.width_mm;support.height_mm;sheet.format;title;note"


def test_a_table_in_the_contracts_own_words() -> None:
    table = (
        "\ufeffStudent;support.width_mm;support.height_mm;sheet.format;print.mirror;Title;#Class\r\n"
        "王小明;600;40,5;A3;yes;静物;7b\r\n"
        "Ada;;;;;;\r\n"
    )
    first, second = read_item_requests(table)
    assert first == ItemRequest(
        student="王小明",
        title="静物",
        spec={
            "support": {"width_mm": 600.0, "height_mm": 40.5},
            "sheet": {"format": "iso_a3_297x420mm"},
            "print": {"mirror": True},
        },
        line=2,
    )
    assert second == ItemRequest(student="Ada", line=3)


def test_lines_tones_and_grids_have_columns() -> None:
    table = (
        "Student;style;line;tones;grid;grid.diagonals;printer\n"
        "Ada;Outline;0,35;;50 mm;x;Studio Laser\n"
        "Ben;values;;4;;;"
    )
    first, second = read_item_requests(table)
    assert first.spec == {
        "tone": {"style": "outline", "outline": {"line_mm": 0.35}},
        "grid": {"square_mm": 50.0, "diagonals": True},
        "print": {"printer": "Studio Laser"},
    }
    assert second.spec == {"tone": {"style": "values", "values": {"count": 4}}}
    support = {"support": {"width_mm": 600, "height_mm": 400}}
    for wish in (first, second):
        load_spec(wish.spec | support)


def test_short_headings_and_other_words_for_name() -> None:
    (wish,) = read_item_requests(
        "Élève,width mm,Height_mm,photo,NOTE\nZoë,٣٠٠,200 mm,ref_x,Bring tape"
    )
    assert wish.student == "Zoë"
    assert wish.spec == {"support": {"width_mm": 300.0, "height_mm": 200.0}}
    assert (wish.reference_id, wish.note) == ("ref_x", "Bring tape")


@pytest.mark.parametrize("language", LANGUAGES)
def test_headings_that_the_page_names_are_read(language: str) -> None:
    page = json.loads((FOLDER / f"words/{language}/classes.json").read_text("utf-8"))
    named = re.search(r": ?([^.;]+)", page["batch"]["table-note"].replace("\u00a0", " "))
    assert named
    headings = ";".join(["Student", *re.split(", ?", named[1].strip())])
    (wish,) = read_item_requests(f"{headings}\nAda;600;400;A3;Pear;Soft")
    (same,) = read_item_requests(f"Student;{CONTRACT}\nAda;600;400;A3;Pear;Soft")
    assert wish == same


def test_a_word_heads_one_kind_of_column_in_all_languages() -> None:
    headed = [
        (word, key)
        for language in LANGUAGES
        for key, words in catalogue(PRINTED / language).items()
        if key.startswith("table.") and key not in {"table.yes", "table.no"}
        for word in str(words).split("|")
    ]
    kinds = {word: {key for other, key in headed if other == word} for word, _ in headed}
    assert {word: keys for word, keys in kinds.items() if len(keys) > 1} == {}


def test_headings_in_italian_say_the_same() -> None:
    italian = "Nome;Larghezza mm;Altezza_mm;Bordo;Foglio;Titolo;Nota\nIda;297,5;210;5;A3;Vaso;Gomma"
    english = "Student;width_mm;height_mm;border_mm;sheet;title;note\nIda;297.5;210;5;A3;Vaso;Gomma"
    assert read_item_requests(italian) == read_item_requests(english)
    assert read_item_requests("Nome;print.mirror\nIda;sì")[0].spec == {"print": {"mirror": True}}
    assert read_item_requests("Name;print.mirror\nIda;Nein")[0].spec == {"print": {"mirror": False}}
    for heading in ("Studente", "Alunna", "Allievo", "Schülerin"):
        assert read_item_requests(f"{heading};foto\nIda;ref_x")[0].reference_id == "ref_x"
    with pytest.raises(TableUnreadable, match="Two columns"):
        read_item_requests("Nome;larghezza;width_mm\nIda;600;600")


def test_headings_in_spanish_say_the_same() -> None:
    spanish = "Nombre;Ancho mm;Alto_mm;Borde;Hoja;Título;Nota\nIda;297,5;210;5;A3;Jarra;Goma"
    english = "Student;width_mm;height_mm;border_mm;sheet;title;note\nIda;297.5;210;5;A3;Jarra;Goma"
    assert read_item_requests(spanish) == read_item_requests(english)
    for heading in ("Estudiante", "Alumna", "Nombre completo"):
        assert read_item_requests(f"{heading};foto\nIda;ref_x")[0].reference_id == "ref_x"


@pytest.mark.parametrize(
    ("table", "line", "told"),
    [
        ("", None, "empty"),
        ("Ada;600\nBen;500", 1, "not known"),
        ("Student;widht_mm\nAda;600", 1, "widht_mm is not known"),
        ("width_mm;height_mm\n600;400", 1, "column Student"),
        ("Student;width;width_mm\nAda;600;600", 1, "Two columns"),
        ("Student;width_mm\nAda;wide", 2, "Line 2, column width_mm, value wide: Write a number"),
        ("Student;print.mirror\nAda;maybe", 2, "column print.mirror, value maybe: Write yes or no"),
    ],
)
def test_what_is_not_known_is_refused(table: str, line: int | None, told: str) -> None:
    with pytest.raises(TableUnreadable, match=told) as raised:
        read_item_requests(table)
    assert raised.value.line == line
