"""Builds `rays.cu` for the machine it runs on, and calls it."""

from __future__ import annotations

import ctypes
import functools
import hashlib
import os
import subprocess
import tempfile
from pathlib import Path

import torch
from torch import Tensor

from solids.slots import KINDS, UNIT, UNITS

_SOURCE = Path(__file__).parent / "rays.cu"
_COMPILERS = {
    "cuda": ["nvcc", "-O3", "--use_fast_math", "-arch=native", "-shared", "-Xcompiler", "-fPIC"],
    "cpu": ["g++", "-O3", "-ffast-math", "-shared", "-fPIC", "-x", "c++"],
}


def look(
    slots: Tensor,
    around: Tensor,
    objects: Tensor,
    eye: Tensor,
    way: Tensor,
    light: tuple[Tensor, Tensor],
) -> Tensor:
    """What rays meet.

    Args:
        slots: (scenes, `SLOTS`, `NUMBERS`).
        around: (scenes, `SURROUNDINGS`).
        objects: Of which object each slot is.
        eye: (scenes, 3).
        way: (scenes, 3, pixels), unit vectors.
        light: Towards the light (scenes, 3), and the tangent of its half angle (scenes).

    Returns:
        (scenes, 7, pixels): how far off, slot (-1 for nothing), how much is seen of the light and
        of the sky, and which way it faces.
    """
    scenes, _, pixels = way.shape
    kinds = torch.tensor([KINDS.index(kind) for kind in UNIT * UNITS], dtype=torch.int32)
    found = torch.empty(scenes, 7, pixels, device=way.device)
    floats = [each.float().contiguous() for each in (slots, around, eye, way, *light)]
    wholes = [each.to(way.device, torch.int32).contiguous() for each in (kinds, objects)]
    slots, around, eye, way, to, wide = floats
    at = [ctypes.c_void_p(each.data_ptr()) for each in (slots, around, *wholes)]
    seen = [ctypes.c_void_p(each.data_ptr()) for each in (eye, way, to, wide, found)]
    fault = _program(way.device.type).look(*at, slots.shape[1], *seen, scenes, pixels)
    if fault:
        message = f"rays.cu failed with error {fault} of CUDA"
        raise RuntimeError(message)
    return found


@functools.cache
def _program(device: str) -> ctypes.CDLL:
    """Built once for all processes of this machine."""
    name = hashlib.sha256(_SOURCE.read_bytes()).hexdigest()[:16]
    built = Path(tempfile.gettempdir()) / f"rays-{device}-{name}.so"
    if not built.exists():
        fresh = built.with_suffix(f".{os.getpid()}")
        command = [*_COMPILERS[device], str(_SOURCE), "-o", str(fresh)]
        subprocess.run(command, check=True)  # noqa: S603 - compilers and a file of ours.
        fresh.replace(built)
    return ctypes.CDLL(str(built))
