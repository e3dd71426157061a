"""Looks for new paths through the intake's Python with atheris: `python -m tests.fuzz.guided`.

Atheris (`pip install atheris`) is libFuzzer for Python. Decoders written in C are not
instrumented; what is guided is our own code and Pillow's readers of headers, chunks and
directories. A file that breaks something is kept as crash-… in the current folder.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

# What is loaded before is not instrumented.
with atheris.instrument_imports(include=["worker.reference", "PIL"]):
    from worker.errors import PhotoError
    from worker.reference.colour.srgb import converter
    from worker.reference.decode import Limits, decode_photo
    from worker.reference.intake import upright_part

from tests.fuzz.samples import samples

_LIMITS = Limits(max_pixels=2_000_000, max_bytes=2_000_000)


def main() -> None:
    """Run for as many minutes as the first argument says, and do not return."""
    with tempfile.TemporaryDirectory() as name:
        for number, data in enumerate(samples().values()):
            (Path(name) / str(number)).write_bytes(data)
        seconds = int(60 * float(sys.argv[1]))
        bounds = [f"-max_total_time={seconds}", "-timeout=30", "-rss_limit_mb=3000"]
        atheris.Setup([sys.argv[0], name, "-seed=1", "-max_len=60000", *bounds], _one)
        atheris.Fuzz()


def _one(data: bytes) -> None:
    """Decode a file as the child process does; what it raises besides refusals is a find."""
    for accept_damaged in (False, True):
        try:
            decoded = decode_photo(data, _LIMITS, accept_damaged=accept_damaged)
            width, height = decoded.upright_size_px
            part = upright_part(decoded, (0, 0, width, min(height, 64)))
        except PhotoError:
            continue
        converter(decoded.image)(part)


if __name__ == "__main__":
    main()
