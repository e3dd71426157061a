"""The network that reads contours: U-shaped, as `worker/reading/contours.py` runs it."""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from torch import Tensor, nn

#: Channels from half the picture's size down to a 32nd of it.
CHANNELS = (32, 48, 56, 80, 96)
#: What is read: contour, outer, mark, shadow, and how sure the first is.
MAPS = 5


class ContourNet(nn.Module):
    """From a picture (scenes, 3, rows, columns) of 0 to 1 to logits of `MAPS` maps."""

    def __init__(self) -> None:
        super().__init__()
        first, steps = CHANNELS[0], range(len(CHANNELS) - 1)
        self.d0 = nn.ModuleList([_three(12, first), _three(first, first)])
        self.d = nn.ModuleList(
            nn.ModuleList(
                [_three(CHANNELS[i], CHANNELS[i + 1]), _three(CHANNELS[i + 1], CHANNELS[i + 1])]
            )
            for i in steps
        )
        self.u = nn.ModuleList(
            nn.ModuleList(
                [
                    nn.Conv2d(CHANNELS[i + 1] + CHANNELS[i], CHANNELS[i], 1),
                    _three(CHANNELS[i], CHANNELS[i]),
                ]
            )
            for i in reversed(steps)
        )
        self.o = _three(first, 4 * MAPS)

    def forward(self, picture: Tensor) -> Tensor:
        """Logits (scenes, `MAPS`, rows, columns); sides are multiples of 32."""
        x = F.pixel_unshuffle(picture - 0.5, 2)
        for layer in self.d0:
            x = F.relu(layer(x))
        kept = [x]
        for first, second in self.d:
            x = F.relu(second(F.relu(first(F.avg_pool2d(x, 2)))))
            kept.append(x)
        x = kept.pop()
        for first, second in self.u:
            x = torch.cat([F.interpolate(x, scale_factor=2, mode="nearest"), kept.pop()], 1)
            x = F.relu(second(F.relu(first(x))))
        return F.pixel_shuffle(self.o(x), 2)


def _three(into: int, out: int) -> nn.Conv2d:
    return nn.Conv2d(into, out, 3, padding=1)
