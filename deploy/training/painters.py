"""Painters of scenes: processes that paint while a network learns.

To paint a scene is to start thousands of small programs on a GPU, one after another; several
painters do it side by side. Which batch comes when depends on nothing but the seed.
"""

from __future__ import annotations

import os
import tempfile
from multiprocessing.synchronize import Semaphore
from pathlib import Path

import numpy as np
import torch
import torch.multiprocessing as mp
from scenes import SIDE_PX, scenes
from textures import Bank
from torch import Tensor

#: Planes of a picture, of its labels, and of how much the first of these count.
PLANES = (3, 8, 5)
#: Batches that a painter may be ahead of what was taken of it.
_AHEAD = 2
#: Whose GPUs a process sees; each painter has one, which it takes for the first.
_SEEN = "CUDA_VISIBLE_DEVICES"
_DEVICE = "cuda:0"
#: A painter that takes so long for a batch has failed.
_PATIENCE_S = 240
#: A painter makes new textures after so many batches.
_NEW_BANK = 40
TEXTURES, TEXTURE_PX = 24, 512


class Painters:
    """Painters at work; batches are taken of them in turn.

    Args:
        seed: Of all that they paint.
        number: How many there are.
        count: Scenes in a batch.
        gpus: Where they paint, in turn.
    """

    def __init__(self, seed: int, number: int, count: int, gpus: list[int]) -> None:
        context = mp.get_context("spawn")
        self._number, self._taken = number, 0
        path = Path(tempfile.mkdtemp()) / "scenes"
        self._shape = (number * _AHEAD, count, sum(PLANES), SIDE_PX, SIDE_PX)
        self._wall = np.memmap(path, np.uint8, "w+", shape=self._shape)
        self._free = [context.Semaphore(_AHEAD) for _ in range(number)]
        self._ready = [context.Semaphore(0) for _ in range(number)]
        mine = os.environ.get(_SEEN)
        for painter in range(number):
            gates = (self._free[painter], self._ready[painter])
            what = ((path, self._shape), (seed, painter), gates)
            # What a process sees is settled when it starts.
            os.environ[_SEEN] = str(gpus[painter % len(gpus)])
            context.Process(target=_paint, args=what, daemon=True).start()
        if mine is None:
            del os.environ[_SEEN]
        else:
            os.environ[_SEEN] = mine

    def batch(self, device: str) -> tuple[Tensor, ...]:
        """The next batch: pictures, labels and how much each counts, 0 to 1."""
        round_, painter = divmod(self._taken, self._number)
        if not self._ready[painter].acquire(timeout=_PATIENCE_S):
            message = f"painter {painter} has stopped: see what it printed"
            raise RuntimeError(message)
        place = self._wall[painter * _AHEAD + round_ % _AHEAD]
        planes = torch.from_numpy(place).to(device).float() / 255
        self._free[painter].release()
        self._taken += 1
        return planes.split(PLANES, 1)


def _paint(
    wall: tuple[Path, tuple[int, ...]],
    seeds: tuple[int, int],
    gates: tuple[Semaphore, Semaphore],
) -> None:
    """Paint batch after batch onto the painter's part of the wall."""
    torch.set_num_threads(1)
    (path, shape), (free, ready) = wall, gates
    places = np.memmap(path, np.uint8, "r+", shape=shape)
    number = 0
    while True:
        torch.manual_seed(hash((*seeds, number)))
        if number % _NEW_BANK == 0:
            bank = Bank(TEXTURES, TEXTURE_PX, _DEVICE)
        planes = torch.cat(scenes(bank, shape[1], _DEVICE), 1)
        free.acquire()
        at = seeds[1] * _AHEAD + number % _AHEAD
        places[at] = (planes * 255).round().clamp(0, 255).byte().cpu().numpy()
        ready.release()
        number += 1
