"""From fine pixels to those of the canvas."""

from __future__ import annotations

import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from torch import Tensor

#: Pixels are drawn so much finer, then averaged.
FINER = 2


class Small:
    """From fine pixels to those of the canvas."""

    def __init__(self, scenes: int, fine_px: int) -> None:
        self.shape = (scenes, -1, fine_px, fine_px)

    def mean(self, planes: Tensor) -> Tensor:
        """Averages; (scenes, planes, rows, columns)."""
        return F.avg_pool2d(planes.reshape(self.shape), FINER)

    def first(self, plane: Tensor) -> Tensor:
        """One of each; (scenes, rows, columns)."""
        return plane.reshape(self.shape)[:, 0, ::FINER, ::FINER]
