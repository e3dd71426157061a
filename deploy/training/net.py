"""The network that reads contours: U-shaped, as `worker/reading/contours.py` runs it."""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from torch import Tensor, nn

#: Channels from half the picture's size down to a 32nd of it, and convolutions at each size down:
#: what is far around is understood where it costs least.
CHANNELS = (32, 48, 56, 104, 136)
CONVOLUTIONS = (2, 2, 2, 2, 3)
#: What is read: contour, outer, mark, shadow, and how sure the first is.
MAPS = 5
#: What is told besides, on a grid of a quarter of the sides: what the picture is of, leaves, hair,
#: skin; and the channels on the way up to it, from a 32nd.
SUBJECTS, SUBJECT_CHANNELS = 4, (48, 40, 32, 16)


class ContourNet(nn.Module):
    """From a picture (scenes, 3, rows, columns) of 0 to 1 to logits of `MAPS` maps."""

    def __init__(self) -> None:
        super().__init__()
        first, steps = CHANNELS[0], range(len(CHANNELS) - 1)
        self.d0 = _several(12, first, CONVOLUTIONS[0])
        self.d = nn.ModuleList(
            _several(CHANNELS[i], CHANNELS[i + 1], CONVOLUTIONS[i + 1]) for i in steps
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
        return F.pixel_shuffle(self.o(self.planes(picture)[-1]), 2)

    def planes(self, picture: Tensor) -> list[Tensor]:
        """What is seen on the way up, from a 32nd of the sides to half of them."""
        x = F.pixel_unshuffle(picture - 0.5, 2)
        for layer in self.d0:
            x = F.relu(layer(x))
        kept = [x]
        for level in self.d:
            x = F.avg_pool2d(x, 2)
            for layer in level:
                x = F.relu(layer(x))
            kept.append(x)
        x = kept.pop()
        seen = [x]
        for first, second in self.u:
            x = torch.cat([F.interpolate(x, scale_factor=2, mode="nearest"), kept.pop()], 1)
            x = F.relu(second(F.relu(first(x))))
            seen.append(x)
        return seen


class SubjectNet(nn.Module):
    """From what `ContourNet` sees on its way up to what a picture is of.

    It learns beside a network that does not change, so contours stay what they are. Of what it
    tells in training the first is shipped: what the picture is of.
    """

    def __init__(self, told: int = 1) -> None:
        super().__init__()
        first, *others = SUBJECT_CHANNELS
        self.s = nn.ModuleList([_three(CHANNELS[-1], first), _three(first, first)])
        self.g = nn.Conv2d(first, first, 1)
        self.b = nn.ModuleList(
            nn.Conv2d(beside, mine, 1)
            for beside, mine in zip(CHANNELS[3:0:-1], SUBJECT_CHANNELS, strict=False)
        )
        self.w = nn.ModuleList(_three(a, b) for a, b in zip(SUBJECT_CHANNELS, others, strict=False))
        self.m = _three(SUBJECT_CHANNELS[-1], told)

    def forward(self, seen: list[Tensor]) -> Tensor:
        """Logits (scenes, what is told, rows, columns) on a grid of a quarter of the sides."""
        x = seen[0]
        for layer in self.s:
            x = F.relu(layer(x))
        # What it is of is known by all that is there.
        x = x + self.g(x.mean((2, 3), keepdim=True))
        for beside, wide, more in zip(self.b, self.w, seen[1:], strict=False):
            x = F.interpolate(x, scale_factor=2, mode="nearest") + beside(more)
            x = F.relu(wide(F.relu(x)))
        return self.m(x)


def _several(into: int, out: int, number: int) -> nn.ModuleList:
    return nn.ModuleList(_three(out if at else into, out) for at in range(number))


def _three(into: int, out: int) -> nn.Conv2d:
    return nn.Conv2d(into, out, 3, padding=1)
