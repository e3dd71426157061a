"""The limits of processor time, memory and file size for one photo."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Self

#: A decoded photo with its copies takes up to 16 bytes a pixel (an animated WebP's first frame:
#: two canvases, the frame and the picture); the rest is room for the parts that are worked on.
BYTES_PER_PIXEL = 18
ROOM_BYTES = 250_000_000
#: What is written is smaller than this for every pixel: JPEG tiles in grey and colour.
WRITTEN_PER_PIXEL = 8
WRITTEN_ROOM_BYTES = 50_000_000
#: On a machine that has other work, a process gets a part of the time that passes.
WALL_PER_CPU = 4


@dataclass(frozen=True, kw_only=True)
class Budget:
    """Limits of one process for one photo.

    Attributes:
        cpu_s: Processor time, all threads together.
        memory_bytes: Address space beyond what the process has before the photo.
        written_bytes: Largest file that it may write.
    """

    cpu_s: int
    memory_bytes: int
    written_bytes: int

    @classmethod
    def for_pixels(cls, max_pixels: int, cpu_s: int) -> Self:
        """What the largest photo that is accepted needs, and some more."""
        return cls(
            cpu_s=cpu_s,
            memory_bytes=BYTES_PER_PIXEL * max_pixels + ROOM_BYTES,
            written_bytes=WRITTEN_PER_PIXEL * max_pixels + WRITTEN_ROOM_BYTES,
        )

    @property
    def wall_s(self) -> float:
        """Time that may pass before the process is ended, on a machine that has other work too."""
        return float(WALL_PER_CPU * self.cpu_s)

    def document(self) -> dict[str, Any]:
        """As it is sent."""
        return asdict(self)
