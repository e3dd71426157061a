"""The picture of a pack in very small, for lists of many: a few kilobytes each.

It is made of the pack's `picture.jpg` when it is asked for, so that it costs no disk and goes
with the pack. Of a JPEG only as many coefficients are decoded as the small size needs, which
takes a few milliseconds.
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image

#: The longer side: a card on a phone, at two pixels for each of the screen's units.
LONGER_PX = 360
QUALITY = 80


def write_thumbnail(picture: Path, path: Path) -> None:
    """Write a picture in very small, as JPEG.

    Args:
        picture: A JPEG of our own.
        path: The new file.
    """
    with Image.open(picture) as shown:
        shown.draft(shown.mode, (LONGER_PX, LONGER_PX))
        shown.thumbnail((LONGER_PX, LONGER_PX))
        shown.save(path, "JPEG", quality=QUALITY)
