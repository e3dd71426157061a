"""Which languages there are, and which of them is meant."""

import pytest

from worker.spec.json import load_spec
from worker.spec.spec import Spec
from worker.words.languages import DEFAULT, FOLDER, LANGUAGES, nearest


def test_a_language_is_a_folder_of_catalogues() -> None:
    folders = {path.name for path in FOLDER.iterdir() if path.is_dir() and any(path.glob("*.json"))}
    assert set(LANGUAGES) == folders
    assert {"en", "it"} <= folders
    assert LANGUAGES[0] == DEFAULT


def test_a_spec_takes_every_language_and_no_other() -> None:
    support = {"width_mm": 300, "height_mm": 200}
    for language in LANGUAGES:
        assert load_spec({"support": support, "language": language}).language == language
    assert load_spec({"support": support}).language == Spec.language == DEFAULT
    with pytest.raises(Exception, match="Give one of: en"):
        load_spec({"support": support, "language": "xx"})


@pytest.mark.parametrize(
    ("wanted", "language"),
    [("it", "it"), ("it-CH", "it"), ("IT_it", "it"), ("en-GB-oed", "en"), ("xx", None), ("", None)],
)
def test_a_region_gets_its_language(wanted: str, language: str | None) -> None:
    assert nearest(wanted) == language
