"""What deploy/SECURITY.md names is there, and it answers every item of the standard once."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "deploy" / "SECURITY.md").read_text(encoding="utf-8")
#: Tests without a folder are in its folders.
HOME = "tests/integration/classes"
#: How many items of levels 1 and 2 each section of ASVS 5.0 begins with; those of level 3 follow.
#: Chapter 17 is from memory, and is left out here.
ITEMS = """
1.1:2 1.2:9 1.3:11 1.4:3 1.5:2  2.1:3 2.2:3 2.3:4 2.4:1  3.2:2 3.3:4 3.4:6 3.5:5 3.7:2
4.1:3 4.2:1 4.3:2 4.4:4  5.1:1 5.2:3 5.3:2 5.4:3  6.1:3 6.2:11 6.3:3 6.4:4 6.5:5 6.6:3 6.8:3
7.1:3 7.2:4 7.3:2 7.4:5 7.5:2 7.6:2  8.1:2 8.2:3 8.3:1 8.4:1  9.1:3 9.2:4
10.1:2 10.2:2 10.3:4 10.4:11 10.5:5 10.6:2 10.7:3  11.1:2 11.2:3 11.3:3 11.4:3 11.5:1 11.6:1
12.1:3 12.2:2 12.3:4  13.1:1 13.2:5 13.3:2 13.4:5  14.1:2 14.2:4 14.3:3  15.1:3 15.2:3 15.3:7
16.1:1 16.2:5 16.3:4 16.4:3 16.5:3
"""


def test_the_tests_that_are_named_are_there() -> None:
    named = re.findall(r"`([\w/]*test_\w+\.py)::(\w+)`", TEXT)
    assert len(named) > 25
    for file, name in named:
        (path,) = ROOT.glob(file if "/" in file else f"{HOME}/*/{file}")
        assert f"def {name}(" in path.read_text(encoding="utf-8"), f"{file}::{name}"


def test_the_paths_that_are_named_are_there() -> None:
    named = set(re.findall(r"`((?:service|worker|client|deploy|tests)/[\w./-]+?)(?:::\w+)?`", TEXT))
    assert {path for path in named if not (ROOT / path).exists()} == set()


def test_every_item_of_levels_one_and_two_is_answered_once() -> None:
    rows = re.findall(r"^\| ([\d., ]+) \| (yes|part|no|–) \| (.+) \|$", TEXT, re.MULTILINE)
    answered = Counter(item for items, *_ in rows for item in items.split(", "))
    wanted = {
        f"{section}.{number}"
        for section, count in (part.split(":") for part in ITEMS.split())
        for number in range(1, int(count) + 1)
    }
    assert {item for item in answered if not item.startswith("17.")} == wanted
    assert max(answered.values()) == 1
