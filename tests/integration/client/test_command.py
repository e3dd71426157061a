"""The command as people run it: in process, and through a service that it started."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest
from PIL import Image

from client.command import exit_codes
from tests.waiting import HANG_S

Run = Callable[..., subprocess.CompletedProcess[str]]
JOB = ("--support", "60x40cm", "--sheet", "a4")
#: ISO 216 A4 in points at 72 per inch of 25.4 mm.
A4_PT = (210 * 72 / 25.4, 297 * 72 / 25.4)


def _pages(path: Path) -> int:
    with pikepdf.open(path) as pdf:
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
        for page in pdf.pages:
            assert [float(side) for side in page.mediabox[2:]] == pytest.approx(A4_PT, abs=0.01)
        return len(pdf.pages)


def test_make_in_process_writes_a_whole_pack(ricalco: Run, photo: Path, tmp_path: Path) -> None:
    out, map_path = tmp_path / "new" / "pack.pdf", tmp_path / "new" / "map.png"
    plot = out.with_name("plot.pdf")
    done = ricalco("make", photo, *JOB, "--out", out, "--map", map_path, "--full-size", plot)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "60 × 40 cm" in done.stdout
    # 60 × 40 cm takes at least 240,000 mm² ÷ (200 × 273 mm of usable A4) = 4.4 sheets.
    assert _pages(out) >= 3 + 5
    with Image.open(map_path) as picture:
        assert min(picture.size) > 300
    assert sorted(place.name for place in out.parent.iterdir()) == [
        "map.png",
        "pack.pdf",
        "plot.pdf",
    ]
    assert not (tmp_path / "data").exists()


def test_make_again_gives_the_same_bytes(ricalco: Run, photo: Path, tmp_path: Path) -> None:
    out = tmp_path / "pack.pdf"
    ricalco("make", photo, *JOB, "--out", out)
    first = out.read_bytes()
    done = ricalco("make", photo, *JOB, "--out", out, "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["pack"] == str(out)
    assert out.read_bytes() == first


def test_plan_tells_and_writes_nothing(ricalco: Run, photo: Path, tmp_path: Path) -> None:
    done = ricalco("plan", photo, *JOB)
    assert done.returncode == 0, done.stderr
    for words in ("1·1", "2·1", "Tape along all seams", "pixels per inch", "larger photo"):
        assert words in done.stdout
    assert list(tmp_path.iterdir()) == []


def test_a_service_makes_what_this_process_makes(
    ricalco: Run, photo: Path, tmp_path: Path, service: str
) -> None:
    here, there = tmp_path / "here.pdf", tmp_path / "there.pdf"
    ricalco("make", photo, *JOB, "--title", "Portrait", "--out", here)
    done = ricalco("make", photo, *JOB, "--title", "Portrait", "--out", there, "--service", service)
    assert done.returncode == 0, done.stderr
    assert there.read_bytes() == here.read_bytes()


def test_plans_agree_too(ricalco: Run, photo: Path, service: str) -> None:
    here = ricalco("plan", photo, *JOB, "--json")
    there = ricalco("plan", photo, *JOB, "--json", "--service", service)
    assert json.loads(here.stdout) == json.loads(there.stdout)


def test_send_gives_an_address_that_works(
    ricalco: Run, photo: Path, service: str, tmp_path: Path
) -> None:
    done = ricalco("send", photo, *JOB, "--service", service, "--wait", "--json")
    assert done.returncode == 0, done.stderr
    pack = json.loads(done.stdout)
    assert pack["state"] == "ready"
    told = ricalco("send", photo, *JOB, "--service", service)
    assert f"{service}/v1/packs/pck_" in told.stdout
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("where", ["here", "there"])
@pytest.mark.parametrize(
    ("content", "words", "code"),
    [
        (b"no picture at all", (), exit_codes.BAD_PHOTO),
        (b"", (), exit_codes.BAD_PHOTO),
        (None, ("--rotate", "80"), exit_codes.USAGE),
        (None, ("--crop", "0.5,0,1,1"), exit_codes.USAGE),
        (None, ("--ppi", "5000"), exit_codes.USAGE),
    ],
)
def test_a_bad_job_is_one_line_and_the_same_code_here_and_there(
    ricalco: Run,
    photo: Path,
    tmp_path: Path,
    service: str,
    *,
    where: str,
    content: bytes | None,
    words: tuple[str, ...],
    code: int,
) -> None:
    source = photo
    if content is not None:
        source = tmp_path / "photo.jpg"
        source.write_bytes(content)
    to = ("--service", service) if where == "there" else ()
    done = ricalco("make", source, *JOB, *words, *to, "--out", tmp_path / "pack.pdf")
    assert done.returncode == code, done.stderr
    assert done.stderr.startswith("ricalco: ")
    assert done.stderr.count("\n") == 1
    assert not (tmp_path / "pack.pdf").exists()


def test_no_service_is_told(ricalco: Run, photo: Path) -> None:
    done = ricalco("send", photo, *JOB, "--service", "http://127.0.0.1:9")
    assert done.returncode == exit_codes.NO_SERVICE
    assert "ricalco serve" in done.stderr


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_stopped_in_the_middle_it_leaves_nothing(
    photo: Path, tmp_path: Path, how: signal.Signals
) -> None:
    out = tmp_path / "out" / "pack.pdf"
    temporary = tmp_path / "tmp"
    temporary.mkdir()
    words = ["make", str(photo), "--support", "3x2m", "--out", str(out)]
    process = subprocess.Popen(
        [sys.executable, "-m", "client.command", *words], env={"TMPDIR": str(temporary)}
    )
    until = time.monotonic() + HANG_S
    while not list(temporary.glob("ricalco-*/pack/*")) and time.monotonic() < until:
        time.sleep(0.01)
    process.send_signal(how)
    assert process.wait(timeout=HANG_S) in {exit_codes.INTERRUPTED, exit_codes.ENDED}
    assert list(temporary.iterdir()) == []
    assert not out.exists()


def test_check_finds_this_machine_ready(ricalco: Run, service: str) -> None:
    done = ricalco("check", "--service", service, "--json")
    findings = {finding["what"]: finding for finding in json.loads(done.stdout)}
    assert findings["service"]["good"]
    assert findings["Pillow"]["good"]
    assert findings["data folder"]["good"]


def test_check_says_how_to_mend(ricalco: Run, tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file where a folder should be")
    done = ricalco("check")
    assert done.returncode == exit_codes.NOT_READY
    assert "RICALCO_DATA_DIR" in done.stdout


def test_a_taken_port_is_one_plain_line(ricalco: Run, service: str) -> None:
    done = ricalco("serve", "--port", service.rpartition(":")[2])
    assert done.returncode == exit_codes.NOT_READY
    assert "port" in done.stderr.lower()
    assert "Traceback" not in done.stderr


def test_a_damaged_photo_is_refused_and_made_of_on_a_wish(
    ricalco: Run, photo: Path, tmp_path: Path
) -> None:
    broken = tmp_path / "cut.jpg"
    whole = photo.read_bytes()
    broken.write_bytes(whole[: len(whole) * 6 // 10] + b"\xff\xd9")
    refused = ricalco("plan", broken, *JOB)
    assert refused.returncode == exit_codes.BAD_PHOTO
    assert "% of it can be read" in refused.stderr
    assert refused.stderr.count("\n") == 1
    taken = ricalco("plan", broken, *JOB, "--accept-damaged")
    assert taken.returncode == 0, taken.stderr
