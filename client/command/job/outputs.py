"""Where results may be written: an earlier pack is replaced, anything else is not.

Making a pack again after changing a setting is the usual thing, and asking each time
would only teach people to say yes. But a slip such as `--out photo.jpg` must not cost a
photo. So a file is replaced when it is of the kind that is written there, and refused
otherwise; the photo itself is refused always.
"""

from __future__ import annotations

from pathlib import Path

import click

#: First bytes of the kinds that are written (ISO 32000-1, 7.5.2; PNG specification, 5.2).
_FIRST_BYTES = {"PDF": b"%PDF-", "PNG": b"\x89PNG"}


def check_output(path: Path, kind: str, *, photo: Path | None = None, force: bool) -> None:
    """Refuse before any work what would have to be refused after it.

    Args:
        path: What is to be written.
        kind: `PDF` or `PNG`.
        photo: What is read, where something is.
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
    if not force and not _is_of(path, kind):
        message = f"{path} exists and is no {kind}: choose another name, or say --force."
        raise click.UsageError(message)


def _is_of(path: Path, kind: str) -> bool:
    start = _FIRST_BYTES[kind]
    with path.open("rb") as file:
        found = file.read(len(start))
    return found in (b"", start)
