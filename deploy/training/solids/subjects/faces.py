"""Paints what is flat on rendered people: eyes, mouths, folds, glasses, what is worn."""

from __future__ import annotations

from dataclasses import replace

import torch
from clothes import clothes
from fields import AWAY, Frame, capsule, ellipse
from painted.eyes import eye, eye_paints
from painted.heads import face_folds, mouth
from studio import Studio
from torch import Tensor

from solids.solids import Place, Solids, flat
from solids.view import Camera

#: A plane is hidden where something is so much nearer, and ends where nothing is for so far; one
#: whose normal is so far from the eye (cosine) is not painted.
_NEARER, _FURTHER, _EDGE_ON = 0.2, 0.45, 0.25


def paint_people(s: Studio, o: Solids, camera: Camera, far: Tensor) -> None:
    """Paint on the people that arrangements noted down, in the colours that are there."""
    s.canvas.upon = True
    for chest in o.chests:
        frame, tone = _plane(s, camera, far, chest, 1.0)
        clothes(s, frame, tone)
    if o.eyes:
        _paint_eyes(s, o, camera, far)
    for place, half in o.mouths:
        frame, tone = _plane(s, camera, far, place, half)
        skin = replace(s.skin(), colour=tone)
        face_folds(s, frame)
        mouth(s, frame, skin, worn=False)
    s.canvas.upon = False


def _paint_eyes(s: Studio, o: Solids, camera: Camera, far: Tensor) -> None:
    brow = s.hairy(0.2)
    if o.hair is not None:
        brow = replace(brow, colour=o.hair[:, :, None, None])
    paints = eye_paints(s, s.skin(), brow)
    glasses, rim = torch.rand(1) < 0.12, s.dark(0.4)
    rim_px = s.b.geometric(0.5, 2.0)
    for place, half, side in o.eyes:
        frame, tone = _plane(s, camera, far, place, half, side)
        light = tone.mean(1, keepdim=True) / 0.5
        dark = light.clamp(0.3, 1.2)
        eye(
            s,
            frame,
            replace(
                paints,
                skin=replace(paints.skin, colour=tone),
                iris=replace(paints.iris, colour=(paints.iris.colour * light).clamp(0.01, 0.98)),
                brow=replace(paints.brow, colour=(paints.brow.colour * dark).clamp(0.01, 0.98)),
                look=paints.look * side,
            ),
            side,
        )
        if glasses:
            wide = s.b.uniform(1.5, 2.1)
            ring = ellipse(frame, 0.05, 0.1, wide, wide * s.b.uniform(0.7, 1.0)).abs()
            s.canvas.thread(frame.px(ring), rim_px, rim)
            bridge = capsule(frame, (-wide - 0.5, -0.1, -wide, -0.1), (0.0, 0.0))
            s.canvas.thread(frame.px(bridge), rim_px, rim)


def _plane(
    s: Studio,
    camera: Camera,
    far: Tensor,
    place: Place,
    half: Tensor | float,
    side: int = 1,
) -> tuple[Frame, Tensor]:
    """A plane and the colour in its midst; out of the picture where it is hidden."""
    frame, column, row = _frame(s, camera, place, half, side)
    tone, nearest = _at(s.canvas.plain, column, row), _at(far[:, None], column, row)[:, 0]
    like = torch.zeros_like(nearest.flatten())
    to = torch.stack([like + flat(each) for each in place], 1) - camera.at
    away = to.norm(dim=1).view(-1, 1, 1)
    # Hidden, seen from its edge, or beside what it is painted on.
    hidden = (nearest < away - _NEARER) | (-camera.axes[:, 2, 2] < _EDGE_ON).view(-1, 1, 1)
    hidden = hidden | (far > away + _FURTHER)
    u = torch.where(hidden, AWAY, frame.u)
    return Frame(u, frame.v, frame.unit_px), tone.clamp(0.02, 0.98)


def _frame(
    s: Studio, camera: Camera, place: Place, half: Tensor | float, side: int
) -> tuple[Frame, Tensor, Tensor]:
    """A plane that faces forward, as it is seen: u to a side, v down, in units of `half`."""
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
