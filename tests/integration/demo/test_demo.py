"""The demo's scripts still run, and what they draw is what the README shows."""

from __future__ import annotations

import io
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image, ImageCms

from worker.layout.planning import plan_sheets
from worker.reference.decode import Limits
from worker.reference.intake import take_in

pytestmark = pytest.mark.slow

DEMO = Path(__file__).resolve().parents[3] / "deploy" / "demo"
WIDTH_PX, HEIGHT_PX = 180, 120


def run(script: str, *words: object) -> None:
    """A script of the demo, as a person runs it; from its folder nothing else is needed."""
    command = [sys.executable, str(DEMO / script), *map(str, words)]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert ended.returncode == 0, ended.stderr


STILL_LIFE = DEMO / "still_life.jpg"


def grey(picture: Image.Image, width_px: int = WIDTH_PX) -> npt.NDArray[np.float64]:
    """Its luma, at this width."""
    size = (width_px, width_px * HEIGHT_PX // WIDTH_PX)
    small = picture.convert("L").resize(size, Image.Resampling.BOX)
    return np.asarray(small, dtype=np.float64)


def test_it_has_its_size_and_profile_and_tells_nothing_else() -> None:
    with Image.open(STILL_LIFE) as photo:
        assert (photo.format, photo.mode, photo.size) == ("JPEG", "RGB", (4242, 2828))
        assert not photo.getexif()
        profile = ImageCms.ImageCmsProfile(io.BytesIO(photo.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)
    # It travels with every checkout.
    assert STILL_LIFE.stat().st_size < 2_000_000


def test_it_is_shaded_everywhere() -> None:
    """Flat shapes show nothing of what seams and outlines do."""
    with Image.open(STILL_LIFE) as photo:
        values = grey(photo)
    dark, light = np.percentile(values, [1, 99])
    assert (dark < 80, light > 220) == (True, True)
    thirds = [part for row in np.array_split(values, 3) for part in np.array_split(row, 3, axis=1)]
    assert min(part.std() for part in thirds) > 5


def test_it_is_the_picture_that_the_readme_shows() -> None:
    with Image.open(STILL_LIFE) as photo, Image.open(DEMO / "pictures" / "reference.jpg") as shown:
        likeness = np.corrcoef(grey(photo, 60).ravel(), grey(shown, 60).ravel())[0, 1]
    # Mirrored it is below nought.
    assert likeness > 0.99


def test_the_pictures_of_the_readme_are_made_of_a_real_pack(tmp_path: Path) -> None:
    run("pictures.py", "--folder", tmp_path)
    # Those of the page are taken by screens.py, from a running service; the others have tests too.
    kept = {path.name for path in (DEMO / "pictures").iterdir()}
    others = ("page-", "lines-", "sheets-", "register-")
    shown = {name for name in kept if not name.startswith(others)}
    assert {path.name for path in tmp_path.iterdir()} == shown
    for name in shown - {"reference.jpg"}:
        with Image.open(tmp_path / name) as made, Image.open(DEMO / "pictures" / name) as old:
            assert made.size == old.size
            assert np.asarray(made.convert("L")).std() > 5


def test_the_contact_sheets_of_outlines_are_what_the_search_finds(tmp_path: Path) -> None:
    run("outlines.py", "--folder", tmp_path)
    shown = {path.name for path in (DEMO / "pictures").glob("lines-*")}
    assert {path.name for path in tmp_path.iterdir()} == shown
    for name in shown:
        with Image.open(tmp_path / name) as made, Image.open(DEMO / "pictures" / name) as old:
            assert made.size == old.size
            # A sheet of an older search is to be drawn anew.
            alike = np.corrcoef(
                np.asarray(made.convert("L").reduce(4), np.float64).ravel(),
                np.asarray(old.convert("L").reduce(4), np.float64).ravel(),
            )[0, 1]
        assert alike > 0.97
        assert (DEMO / "pictures" / name).stat().st_size < 400_000


def test_the_twelve_packs_have_every_kind_of_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(DEMO))
    packs, sheets = import_module("packs"), import_module("contact_sheets")
    with STILL_LIFE.open("rb") as source:
        study = take_in(source, tmp_path, Limits()).study
    kinds = {
        name: packs.MadePack(name, plan_sheets(spec, study), tmp_path).kinds
        for name, spec in packs.PACKS.items()
    }
    assert len(kinds) == 12
    assert set().union(*kinds.values()) == {"map", "guide 1", "guide 2", "grid", "support", "sheet"}
    assert set(kinds["A5"]) == {"guide 1", "sheet"}
    # Details are of pages that are there.
    assert [one for one in sheets.DETAILS if one.kind not in kinds[one.pack]] == []
    shown = [path.stat().st_size for path in (DEMO / "pictures").glob("sheets-*")]
    assert len(shown) == 2
    assert sum(shown) < 600_000
