"""A file appears whole or not at all, and an earlier one stays until then."""

from __future__ import annotations

from pathlib import Path

import pytest

from ricalco_client.files import atomic_file


def test_the_file_appears_with_its_folder(tmp_path: Path) -> None:
    target = tmp_path / "new" / "pack.pdf"
    with atomic_file(target) as file:
        file.write(b"all of it")
        assert not target.exists()
    assert target.read_bytes() == b"all of it"
    assert [place.name for place in target.parent.iterdir()] == ["pack.pdf"]


@pytest.mark.parametrize("fault", [OSError, KeyboardInterrupt, SystemExit])
def test_a_fault_leaves_the_earlier_file_and_nothing_else(
    tmp_path: Path, fault: type[BaseException]
) -> None:
    target = tmp_path / "pack.pdf"
    target.write_bytes(b"earlier")

    def broken() -> None:
        with atomic_file(target) as file:
            file.write(b"half")
            raise fault

    with pytest.raises(fault):
        broken()
    assert target.read_bytes() == b"earlier"
    assert list(tmp_path.iterdir()) == [target]


def test_a_long_name_fits(tmp_path: Path) -> None:
    target = tmp_path / ("n" * 240 + ".pdf")
    with atomic_file(target) as file:
        file.write(b"x")
    assert target.exists()


def test_who_may_read_it_is_as_with_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "any").touch()
    with atomic_file(tmp_path / "pack.pdf") as file:
        file.write(b"x")
    assert (tmp_path / "pack.pdf").stat().st_mode == (tmp_path / "any").stat().st_mode
