"""JPEG photos: decoding, and how much of a damaged file can be read.

Data flows through the modules in this order: `markers` reads the parts of the file without
decoding it, `decode` decodes it and catches the decoder's warnings, `damage` estimates how much
was lost.
"""

from __future__ import annotations

from worker.reference.jpeg.decode import DecodedJpeg, Undecodable, decode
from worker.reference.jpeg.markers import MOST_SCANS, TooManyParts, parts_of

__all__ = ["MOST_SCANS", "DecodedJpeg", "TooManyParts", "Undecodable", "decode", "parts_of"]
