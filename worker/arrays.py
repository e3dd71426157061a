"""Reading NumPy archives, in any thread.

NumPy reads an array's header as a literal of Python. CPython up to 3.11.7 counts the depth of
literals for all threads together, and raises SystemError where two are read at once and memory is
tidied up meanwhile (github.com/python/cpython, issue 106905). So headers are read one at a time.
"""

from __future__ import annotations

import threading
import zipfile
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

_ONE_HEADER = threading.Lock()


def arrays_in(archive: Path | BinaryIO) -> dict[str, npt.NDArray[Any]]:
    """The arrays of what `numpy.savez` wrote, by name; none can be written to.

    Raises:
        OSError: The file cannot be read.
        ValueError, zipfile.BadZipFile: It is not such an archive, or one of objects.
    """
    with zipfile.ZipFile(archive) as opened:
        return {name.removesuffix(".npy"): _array(opened, name) for name in opened.namelist()}


def _array(archive: zipfile.ZipFile, name: str) -> npt.NDArray[Any]:
    with archive.open(name) as member:
        np.lib.format.read_magic(member)
        with _ONE_HEADER:
            shape, by_columns, dtype = np.lib.format.read_array_header_1_0(member)
        values = np.frombuffer(member.read(), dtype)
    return values.reshape(shape, order="F" if by_columns else "C")
