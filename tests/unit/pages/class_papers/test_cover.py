"""Covers and separators: whose, what, how many; in any script, on any sheet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from PIL import Image
from skimage import data

from worker.pages.class_papers.cover import write_cover
from worker.pages.class_papers.recipient import Recipient
from worker.pages.class_papers.separator import write_separator
from worker.pages.pack_content import PackContent, PackText
from worker.pdf.raster import rasterise
from worker.spec.spec import Margins, Print, Sheet, Spec, Support, Tone

SPECS = {
    "six": Spec(support=Support(width_mm=600, height_mm=400)),
    "one": Spec(support=Support(width_mm=180, height_mm=130, border_mm=10)),
    "mural": Spec(support=Support(width_mm=3000, height_mm=2000), tone=Tone(style="colour")),
    "letter": Spec(
        support=Support(width_mm=558.8, height_mm=762), sheet=Sheet(format="na_letter_8.5x11in")
    ),
    "a5": Spec(
        support=Support(width_mm=300, height_mm=200),
        sheet=Sheet(
            format="iso_a5_148x210mm", margin_mm=Margins(top=10, right=10, bottom=18, left=10)
        ),
    ),
}
#: What Poppler reads back: Arabic and Hebrew come in the order of their letters.
NAMES = (
    "Amélie Dvořáková-Nguyễn",
    "ليلى بن يوسف",
    "王小明",
    "प्रिया शर्मा",
    "נועה לוי",
    "👩🏽‍🎨 Kit",
    "김민준",
    "Bo",
)


def faint() -> Image.Image:
    """The astronaut that ships with scikit-image."""
    return Image.fromarray(data.astronaut()).convert("L").resize((300, 200))


def pages(folder: Path, pack: PackContent, recipient: Recipient) -> dict[str, Path]:
    """Both pages of one student."""
    made = {kind: folder / f"{kind}.pdf" for kind in ("cover", "separator")}
    write_cover(made["cover"], pack=pack, recipient=recipient, faint=faint())
    write_separator(made["separator"], pack=pack, recipient=recipient)
    return made


def letters(text: str) -> str:
    """Letters alone: marks are read back in one order or another."""
    return "".join(sorted({letter for letter in text if letter.isalpha()}))


@pytest.mark.parametrize("name", NAMES)
def test_names_in_any_script_are_printed(
    tmp_path: Path, pack: Callable[..., PackContent], read: Callable[[Path, int], str], name: str
) -> None:
    recipient = Recipient(name=name, group="Πέμπτη 7β", place=3, of=30)
    for path in pages(tmp_path, pack(SPECS["six"]), recipient).values():
        words = read(path, 1)
        assert set(letters(name)) <= set(words)
        # U+FFFD or a box would mean that no face has a letter.
        assert "\ufffd" not in words
        with pikepdf.open(path) as pdf:
            fonts = pdf.pages[0].Resources.Font
            assert all("/FontFile2" in _descriptor(font) for font in fonts.values())


def _descriptor(font: pikepdf.Object) -> pikepdf.Object:
    return font.DescendantFonts[0].FontDescriptor


@pytest.mark.parametrize("spec", SPECS.values(), ids=SPECS.keys())
def test_counts_labels_and_title_are_told(
    tmp_path: Path, pack: Callable[..., PackContent], read: Callable[[Path, int], str], spec: Spec
) -> None:
    made = pack(spec)
    recipient = Recipient(
        name="Ada Okafor", group="7b", place=2, of=30, note="Bring your own board."
    )
    both = pages(tmp_path, made, recipient)
    labels = [piece.label for piece in made.plan.pieces]
    for path in both.values():
        words = read(path, 1)
        for told in ("Ada Okafor", "7b", "7K3F-Q2ZD"):
            assert told in words
        # One sheet alone needs no name.
        assert {label in words for label in (labels[0], labels[-1])} == {len(labels) > 1}
        assert str(made.plan.sheet_count) in words.split()
        assert made.text.title in words
    assert "Bring your own board." in read(both["cover"], 1)
    assert "2 of 30" in read(both["separator"], 1)


@pytest.mark.parametrize("spec", SPECS.values(), ids=SPECS.keys())
@pytest.mark.parametrize("name", ["Bo", "W" * 120, "Very long " * 12, "ليلى " * 24, "", "\x00"])
def test_ink_stays_inside_the_printers_margins(
    tmp_path: Path, pack: Callable[..., PackContent], spec: Spec, name: str
) -> None:
    made = pack(spec, PackText(title=name * 2, number="7K3F-Q2ZD"))
    recipient = Recipient(name=name, group=name, place=300, of=300, note=name)
    margin = spec.sheet.margin_mm
    for path in pages(tmp_path, made, recipient).values():
        seen = np.asarray(rasterise(path, 1, 72).convert("L"))
        sides = {
            "top": seen[: _dots(margin.top)],
            "right": seen[:, -_dots(margin.right) :],
            "bottom": seen[-_dots(margin.bottom) :],
            "left": seen[:, : _dots(margin.left)],
        }
        assert all(side.min() == 255 for side in sides.values())


def _dots(margin_mm: float) -> int:
    return int(margin_mm / 25.4 * 72)


def test_a_separator_is_grey_and_its_name_can_be_read_across_a_table(
    tmp_path: Path, pack: Callable[..., PackContent]
) -> None:
    made = pack(SPECS["mural"])
    both = pages(tmp_path, made, Recipient(name="Ada", place=1, of=3))
    seen = np.asarray(rasterise(both["separator"], 1, 72)).astype(int)
    assert np.abs(seen[..., 0] - seen[..., 2]).max() == 0
    # Capitals of 10 mm are read from three metres (common practice: 1 mm for 300 mm).
    dark = (seen[60:300, 20:400].min(axis=2) < 128).any(axis=1)
    runs = "".join("x" if row else " " for row in dark).split()
    assert max(map(len, runs)) / 72 * 25.4 > 10


def test_tabs_step_down_from_student_to_student(
    tmp_path: Path, pack: Callable[..., PackContent]
) -> None:
    def tab(place: int) -> int:
        path = tmp_path / "separator.pdf"
        write_separator(
            path, pack=pack(SPECS["six"]), recipient=Recipient(name="Ada", place=place, of=30)
        )
        seen = np.asarray(rasterise(path, 1, 72).convert("L"))
        return int(np.argmax(seen[:, -30:].min(axis=1) < 128))

    tops = [tab(place) for place in (1, 2, 3, 13)]
    assert tops[0] < tops[1] < tops[2]
    assert tops[3] == tops[0]


def test_the_same_page_has_the_same_bytes(tmp_path: Path, pack: Callable[..., PackContent]) -> None:
    recipient = Recipient(name="王小明", place=1, of=2)
    first = {
        kind: path.read_bytes()
        for kind, path in pages(tmp_path, pack(SPECS["one"]), recipient).items()
    }
    again = {
        kind: path.read_bytes()
        for kind, path in pages(tmp_path, pack(SPECS["one"]), recipient).items()
    }
    assert first == again


def test_black_only_leaves_no_colour_on_a_cover(
    pack: Callable[..., PackContent], tmp_path: Path
) -> None:
    """Colour operators and spaces of ISO 32000-1, table 74, are not there."""
    colour = {"rg", "RG", "k", "K", "cs", "CS", "sc", "SC", "scn", "SCN"}
    for black_only in (False, True):
        spec = Spec(support=SPECS["six"].support, print=Print(black_only=black_only))
        picture = Image.fromarray(data.astronaut()).resize((300, 200))
        path = tmp_path / "cover.pdf"
        write_cover(path, pack=pack(spec), recipient=Recipient(name="Ada"), faint=picture)
        with pikepdf.open(path) as pdf:
            (page,) = pdf.pages
            used = {str(each.operator) for each in pikepdf.parse_content_stream(page)}
            spaces = {str(image.ColorSpace) for image in page.get_images().values()}
        assert bool(used & colour) is not black_only
        assert spaces == {"/DeviceGray" if black_only else "/DeviceRGB"}
