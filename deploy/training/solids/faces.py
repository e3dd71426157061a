"""Paints the eyes of rendered heads, where they are seen."""

from __future__ import annotations

from dataclasses import replace

import torch
from eyes import eye, eye_paints
from fields import Frame
from studio import Studio
from torch import Tensor

from solids.solids import Place, Solids, flat
from solids.view import Camera

#: An eye is hidden where something is so much nearer.
_NEARER = 0.2
#: Moves what is hidden out of the picture.
_AWAY = 100.0


def paint_eyes(s: Studio, o: Solids, camera: Camera, far: Tensor) -> None:
    """Paint the eyes that arrangements noted down, in the colours around them."""
    if not o.eyes:
        return
    paints = eye_paints(s, s.skin(), s.hairy(0.2))
    s.canvas.upon = True
    for place, half, side in o.eyes:
        frame, column, row = _frame(s, camera, place, half, side)
        skin, nearest = _at(s.canvas.plain, column, row), _at(far[:, None], column, row)[:, 0]
        like = torch.zeros_like(nearest.flatten())
        to = torch.stack([like + flat(each) for each in place], 1) - camera.at
        hidden = (nearest < to.norm(dim=1).view(-1, 1, 1) - _NEARER).float()
        frame = Frame(frame.u + _AWAY * hidden, frame.v, frame.unit_px)
        light = skin.mean(1, keepdim=True) / 0.5
        eye(
            s,
            frame,
            replace(
                paints,
                skin=replace(paints.skin, colour=skin.clamp(0.02, 0.98)),
                iris=replace(paints.iris, colour=(paints.iris.colour * light).clamp(0.01, 0.98)),
                look=paints.look * side,
            ),
            side,
        )
    s.canvas.upon = False


def _frame(
    s: Studio, camera: Camera, place: Place, half: Tensor | float, side: int
) -> tuple[Frame, Tensor, Tensor]:
    """The plane of an eye as it is seen: u to its outer corner, v down."""
    side_px = s.b.side_px
    column, row = camera.seen_at(place, side_px)
    ends = [
        camera.seen_at((place[0] + x, place[1] + y, place[2]), side_px)
        for x, y in ((side * half, 0.0), (0.0, -half))
    ]
    (au, av), (bu, bv) = ((end[0] - column, end[1] - row) for end in ends)
    x, y = s.b.pixels()
    across, down = x - column.view(-1, 1, 1), y - row.view(-1, 1, 1)
    area = (au * bv - av * bu).view(-1, 1, 1)
    area = torch.where(area.abs() < 1e-3, torch.full_like(area, 1e-3), area)
    u = (across * bv.view(-1, 1, 1) - down * bu.view(-1, 1, 1)) / area
    v = (down * au.view(-1, 1, 1) - across * av.view(-1, 1, 1)) / area
    return Frame(u, v, area.abs().sqrt()), column, row


def _at(plane: Tensor, column: Tensor, row: Tensor) -> Tensor:
    """A picture's colours at a pixel of each scene; (scenes, planes, 1, 1)."""
    side = plane.shape[-1]
    scenes = torch.arange(len(plane), device=plane.device)
    at = plane[scenes, :, row.long().clamp(0, side - 1), column.long().clamp(0, side - 1)]
    return at[:, :, None, None]
