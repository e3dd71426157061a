"""Errors as one plain line, exit codes, and outputs that are not overwritten by a slip."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click
import pytest

from client.command import exit_codes
from client.command import main as command
from client.command.job.outputs import check_output
from client.command.progress import progress_bar
from ricalco_client import errors as told
from worker import errors as made


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (made.SizeUnreadable("x"), 2),
        (made.PortTaken("x"), 3),
        (made.ReferenceDamaged("x"), 5),
        (made.GaveUp("x"), 1),
        (made.NotFound("x"), 1),
        (told.SpecRefused("x"), 2),
        (told.MachineNotReady("x"), 3),
        (told.ServiceUnreachable("x"), 4),
        (told.DownloadDamaged("x"), 4),
        (told.PhotoRefused("x"), 5),
        (told.MakingFailed("x"), 1),
        (told.RequestRefused("x"), 1),
    ],
)
def test_each_family_has_its_exit_code(error: Exception, code: int) -> None:
    assert exit_codes.exit_code(error) == code


def test_saying_nothing_shows_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run([]) == 0
    assert "Commands:" in capsys.readouterr().out


def test_help_documents_every_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run(["--help"]) == 0
    shown = capsys.readouterr().out
    for code, meaning in exit_codes.EXIT_CODES.items():
        assert f"{code}  {meaning}" in shown


@pytest.mark.parametrize(
    "name",
    [
        "make",
        "plan",
        "preview",
        "send",
        "calibrate",
        "printers",
        "serve",
        "open",
        "tutor",
        "class",
        "batch",
        "worker",
        "check",
    ],
)
def test_every_command_has_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run([name, "--help"]) == 0
    assert f"ricalco {name}" in capsys.readouterr().out


def test_an_error_is_one_line_with_the_option_at_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = tmp_path / "vase.jpg"
    photo.write_bytes(b"x")
    assert command.run(["plan", str(photo), "--support", "60x40"]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.startswith("ricalco: ")
    assert shown.err.count("\n") == 1
    assert "Traceback" not in shown.err


@pytest.mark.parametrize(
    ("words", "code"), [(["--support", "60x40"], "size-unreadable"), ([], "usage")]
)
def test_scripts_get_errors_as_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], code: str
) -> None:
    photo = tmp_path / "vase.jpg"
    photo.write_bytes(b"x")
    assert command.run(["plan", str(photo), *words, "--json"]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert json.loads(shown.err)["code"] == code


@pytest.mark.parametrize(
    "words",
    [["fly"], ["make"], ["make", "nowhere.jpg", "--support", "a3"], ["serve", "--port", "0"]],
)
def test_wrong_usage_is_told_in_one_line(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert command.run(words) == exit_codes.USAGE
    assert "Traceback" not in capsys.readouterr().err


def test_no_service_is_told_with_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = tmp_path / "vase.jpg"
    photo.write_bytes(b"x")
    assert command.run(["send", str(photo), "--support", "a3", "--service", "no-address"]) == 4
    assert "http://" in capsys.readouterr().err


def _fail_with(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def main(**_: Any) -> None:
        raise error

    monkeypatch.setattr(command.cli, "main", main)


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (made.StorageFull("The disk is full: make room."), 3, "make room"),
        (made.SpecInvalid("Wrong.", field="support.width_mm", fields={}), 2, "--support: Wrong."),
        (PermissionError(13, "Permission denied", "/x/pack.pdf"), 1, "/x/pack.pdf: Permission"),
        (ZeroDivisionError("oops\nmore"), 1, "unforeseen fault (ZeroDivisionError: oops)"),
        (KeyboardInterrupt(), 130, ""),
        (click.Abort(), 130, ""),
    ],
)
def test_nothing_escapes_as_a_traceback(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    error: BaseException,
    code: int,
    words: str,
) -> None:
    _fail_with(monkeypatch, error)
    assert command.run([]) == code
    shown = capsys.readouterr().err
    assert words in shown
    assert shown.count("\n") <= 1


def test_debug_shows_where_it_happened(monkeypatch: pytest.MonkeyPatch) -> None:
    _fail_with(monkeypatch, ZeroDivisionError("oops"))
    with pytest.raises(ZeroDivisionError):
        command.run(["--debug"])


def _photo(folder: Path) -> Path:
    photo = folder / "vase.jpg"
    photo.write_bytes(b"\xff\xd8")
    return photo


@pytest.mark.parametrize("content", [b"%PDF-1.7 earlier pack", b""])
def test_an_earlier_pack_may_be_replaced(tmp_path: Path, content: bytes) -> None:
    out = tmp_path / "pack.pdf"
    out.write_bytes(content)
    check_output(out, "PDF", photo=_photo(tmp_path), force=False)


def test_another_file_is_left_alone_unless_forced(tmp_path: Path) -> None:
    out = tmp_path / "letter.txt"
    out.write_text("Dear …")
    with pytest.raises(click.UsageError, match="--force"):
        check_output(out, "PDF", photo=_photo(tmp_path), force=False)
    check_output(out, "PDF", photo=_photo(tmp_path), force=True)


@pytest.mark.parametrize("name", ["vase.jpg", "link.pdf"])
def test_the_photo_itself_is_never_replaced(tmp_path: Path, name: str) -> None:
    photo = _photo(tmp_path)
    (tmp_path / "link.pdf").symlink_to(photo)
    with pytest.raises(click.UsageError, match="photo itself"):
        check_output(tmp_path / name, "PDF", photo=photo, force=True)


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(click.UsageError, match="folder"):
        check_output(tmp_path, "PDF", photo=_photo(tmp_path), force=True)


def test_the_bar_is_quiet_in_a_pipe(capsys: pytest.CaptureFixture[str]) -> None:
    with progress_bar(quiet=False) as report:
        report(1, 2, "sheets")
    assert capsys.readouterr() == ("", "")


def test_the_bar_shows_on_a_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    with progress_bar(quiet=False) as report:
        report(1, 2, "sheets")
        report(2, 2, "sheets")
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "100%" in shown.err
