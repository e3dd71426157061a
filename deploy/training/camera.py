"""What a camera, an editor and a file do to a scene."""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from fields import Batch, blurred
from torch import Tensor


def recorded(batch: Batch, image: Tensor) -> Tensor:
    """A picture as it comes: blurred, toned, grainy, sharpened, compressed, at times grey."""
    image = blurred(image, float(torch.rand(1) ** 1.5 * 2.4))
    image = image.clamp(0, 1) ** batch.uniform(0.6, 1.7)[:, None]
    # Some are taken in the dark, and all that is to be seen lies in a few levels.
    dark = batch.chance(0.12) * batch.uniform(0.3, 0.85)
    image = (
        (image - 0.5) * batch.uniform(0.6, 1.15)[:, None] + 0.5 + batch.uniform(-0.1, 0.1)[:, None]
    )
    image = image * (1 - dark)[:, None]
    grain = _grain(image) * batch.geometric(0.003, 0.05)[:, None]
    image = image + grain * (1 - 0.7 * dark)[:, None]
    if torch.rand(1) < 0.35:
        over = image - blurred(image, float(0.8 + 1.5 * torch.rand(1)))
        image = image + over * batch.uniform(0, 1.4)[:, None]
    grey = image.mean(1, keepdim=True).expand_as(image)
    image = torch.where(batch.chance(0.3)[:, None] > 0, grey, image)
    compressed = _compressed(image, batch.geometric(1, 16))
    image = torch.where(batch.chance(0.6)[:, None] > 0, compressed, image)
    # In levels, as files have them: slopes come in steps.
    return torch.round(image.clamp(0, 1) * 255) / 255


def _compressed(image: Tensor, step: Tensor) -> Tensor:
    """Compressed at its own size or at a larger one, and reduced: blocks of 4 to 8 pixels."""
    side = image.shape[-1]
    larger = side * int(torch.randint(8, 17, (1,))) // 64 * 8
    if larger == side or torch.rand(1) < 0.5:
        return _blocks(image, step)
    enlarged = F.interpolate(image, (larger, larger), mode="bilinear", antialias=True)
    return F.interpolate(_blocks(enlarged, step), (side, side), mode="bilinear", antialias=True)


def _grain(image: Tensor) -> Tensor:
    """Noise of unit deviation, at times in clumps or much of one colour."""
    noise = torch.randn_like(image)
    if torch.rand(1) < 0.4:
        noise = blurred(noise, float(0.5 + torch.rand(1)))
        noise = noise / noise.std()
    grey = noise.mean(1, keepdim=True) * math.sqrt(3)
    return noise + float(torch.rand(1)) * (grey - noise)


def _blocks(x: Tensor, step: Tensor) -> Tensor:
    """Quantised in blocks of 8 by 8 (ITU-T T.81), with steps that grow with frequency."""
    scenes, planes, rows, columns = x.shape
    k = torch.arange(8, device=x.device)
    scale = torch.where(k[:, None] == 0, math.sqrt(1 / 8), 0.5)
    cosines = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * scale
    z = x.reshape(scenes, planes, rows // 8, 8, columns // 8, 8).permute(0, 1, 2, 4, 3, 5)
    z = cosines @ z @ cosines.T
    steps = step.view(-1, 1, 1, 1, 1, 1) / 255 * (1 + 0.5 * (k[:, None] + k[None]).float())
    z = cosines.T @ (torch.round(z / steps) * steps) @ cosines
    return z.permute(0, 1, 2, 4, 3, 5).reshape(scenes, planes, rows, columns)
