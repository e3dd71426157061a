"""JPEG encoding that lets other threads run.

Encoding into memory holds the interpreter's lock; encoding into a file releases it. So each
thread encodes into a small temporary file of its own and reads it back from the system's cache.
"""

from __future__ import annotations

import tempfile
import threading
from pathlib import Path
from typing import BinaryIO, Literal, Self

from PIL import Image

#: JPEG chroma sampling as the encoder counts it: full, or halved both ways.
ChromaSampling = Literal["4:4:4", "4:2:0"]


class JpegEncoder:
    """Encodes JPEGs for any number of threads.

    Use it as a context manager; leave it in the thread that entered it.

    Args:
        folder: Where temporary files are made.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._own = threading.local()
        self._lock = threading.Lock()
        self._files: list[BinaryIO] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for file in self._files:
            file.close()

    def jpeg(
        self, picture: Image.Image, quality: int, chroma_sampling: ChromaSampling = "4:4:4"
    ) -> bytes:
        """The picture (L or RGB) as JPEG, with nothing in it but pixels."""
        file = self._file()
        file.seek(0)
        file.truncate()
        # Whatever came with the source must not go out with the pixels.
        picture.info = {}
        if picture.mode == "L":
            picture.save(file, "JPEG", quality=quality)
        else:
            picture.save(file, "JPEG", quality=quality, subsampling=chroma_sampling)
        file.seek(0)
        return file.read()

    def _file(self) -> BinaryIO:
        file: BinaryIO | None = getattr(self._own, "file", None)
        if file is None:
            # Closed by `__exit__`, in whichever thread that runs.
            file = tempfile.TemporaryFile(dir=self._folder, buffering=0)  # noqa: SIM115 - closed in __exit__.
            self._own.file = file
            with self._lock:
                self._files.append(file)
        return file
