"""Where results may be written: a file is replaced only by one of its own kind.

Packs are often made again after a change of settings, so an earlier pack is replaced without
a question. A slip such as `--out photo.jpg` must not cost a photo, so a file of another kind
is refused, and the photo itself is refused always.
"""

from __future__ import annotations

from pathlib import Path

import click

#: First bytes of the file kinds that are written (ISO 32000-1, 7.5.2; PNG specification, 5.2).
_FIRST_BYTES = {"PDF": b"%PDF-", "PNG": b"\x89PNG"}


def check_output(path: Path, kind: str, *, photo: Path | None = None, force: bool) -> None:
    """Refuse an output path before any work is done.

    Args:
        path: The file to write.
        kind: `PDF` or `PNG`.
        photo: The photo that is read, if any.
        force: Replace a file of any kind.

    Raises:
        click.UsageError: With the reason.
    """
    if not path.exists():
        return
    if path.is_dir():
        raise click.UsageError(f"{path} is a folder: name a file in it.")
    if photo is not None and path.samefile(photo):
        raise click.UsageError(f"{path} is the photo itself: choose another name.")
    if not force and not _has_kind(path, kind):
        message = f"{path} exists and is no {kind}: choose another name, or say --force."
        raise click.UsageError(message)


def _has_kind(path: Path, kind: str) -> bool:
    start = _FIRST_BYTES[kind]
    with path.open("rb") as file:
        found = file.read(len(start))
    return found in (b"", start)
