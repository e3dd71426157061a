"""Puts solids together: objects of balls, boxes, limbs, rings and vessels, each with a paint."""

from __future__ import annotations

from dataclasses import dataclass, field

import torch
from fields import Batch
from torch import Tensor

from solids.slots import (
    FAR,
    FINE,
    FLOOR,
    MELT,
    MIDDLE,
    NUMBERS,
    ROUGH,
    SHAPE,
    SIGN,
    SIZE,
    SLOTS,
    SURROUNDINGS,
    TURN,
    UNIT,
    UNITS,
)

#: A number for each scene, or one for all.
Number = Tensor | float
Place = tuple[Number, Number, Number]
_MELT = 1e-4


@dataclass
class Surface:
    """What a solid is painted with; (scenes, …) each.

    Attributes:
        colour: (scenes, 3).
        other: The colour of its stripes.
        texture: Which of the bank.
        amount: Deviation of the texture.
        zoom: How large it is: texture sides in a unit of the scene.
        gloss: 0 dull to 1 like a mirror.
        stripes: Stripes in a unit, 0 for none.
        panes: 1 where they are panes instead, as of windows.
        skin: 1 where light comes through, so that shade is soft.
        kind: Number of what it is to be.
    """

    colour: Tensor
    other: Tensor
    texture: Tensor
    amount: Tensor
    zoom: Tensor
    gloss: Tensor
    stripes: Tensor
    panes: Tensor
    skin: Tensor
    kind: Tensor


@dataclass
class Solids:
    """The solids of a batch of scenes.

    Attributes:
        slots: (scenes, `SLOTS`, `NUMBERS`).
        around: (scenes, `SURROUNDINGS`).
        object_of: (`SLOTS`): which object each solid is part of.
        halves: (scenes, solids): half heights, of what is not drawn where it is too small.
        surfaces: What each is painted with, by slot; ground and wall come last.
        eyes: Middles of eyes, their half widths, and which side of the head they are.
        mouths: Middles of mouths, and half the height of their heads.
        chests: Middles of chests that wear something.
        hair: Colour of the heads' hair, (scenes, 3).
    """

    b: Batch
    slots: Tensor = field(init=False)
    around: Tensor = field(init=False)
    object_of: Tensor = field(init=False)
    halves: Tensor = field(init=False)
    surfaces: dict[int, Surface] = field(default_factory=dict)
    eyes: list[tuple[Place, Number, int]] = field(default_factory=list)
    mouths: list[tuple[Place, Number]] = field(default_factory=list)
    chests: list[Place] = field(default_factory=list)
    hair: Tensor | None = None
    _unit: int = -1
    _objects: int = 0
    _taken: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        device, scenes = self.b.device, self.b.scenes
        self.slots = torch.zeros(scenes, SLOTS, NUMBERS, device=device)
        self.slots[..., MIDDLE : MIDDLE + 3] = 2 * FAR
        self.slots[..., TURN : TURN + 9] = torch.eye(3, device=device).flatten()
        self.slots[..., SIZE : SIZE + 3] = 0.1
        self.slots[..., SHAPE + 2], self.slots[..., MELT] = 1.0, _MELT
        self.slots[..., SIGN] = 1.0
        self.around = torch.zeros(scenes, SURROUNDINGS, device=device)
        self.around[:, FLOOR], self.around[:, FLOOR + 1] = -FAR, -FAR
        self.around[:, FINE] = 10.0
        self.object_of = torch.zeros(SLOTS + 2, dtype=torch.long, device=device)
        self.halves = torch.full((scenes, SLOTS + 2), FAR, device=device)
        self.object_of[SLOTS], self.object_of[SLOTS + 1] = 100, 101

    def begin(self) -> None:
        """The solids that follow are another object."""
        self._objects += 1
        self._next_unit()

    def put(
        self,
        kind: str,
        at: Place,
        size: Place,
        surface: Surface,
        *,
        turn: Tensor | None = None,
        shape: Place = (0.0, 0.0, 1.0),
        melt: Number = _MELT,
        carve: bool = False,
        rough: Number = 0.0,
        half: Number = FAR,
    ) -> None:
        """Add a solid to the object.

        Args:
            kind: Of `UNIT`.
            at: Its middle.
            size: As its shape has it.
            surface: What it is painted with.
            turn: (scenes, 3, 3), rows are its own axes.
            shape: What else its shape has.
            melt: Over how much it runs into what is there.
            carve: Take it away instead.
            rough: How far fur or leaves stand out.
            half: Its half height, if it is not drawn where that is too small.
        """
        slot = self._free_slot(kind)
        self.surfaces[slot] = surface
        self.object_of[slot] = self._objects
        self.halves[:, slot] = flat(half)
        row = self.slots[:, slot]
        for first, values in ((MIDDLE, at), (SIZE, size), (SHAPE, shape)):
            for number, value in enumerate(values):
                row[:, first + number] = flat(value)
        if turn is not None:
            row[:, TURN : TURN + 9] = turn.reshape(-1, 9)
        row[:, MELT] = flat(melt).clamp(min=_MELT) if isinstance(melt, Tensor) else max(melt, _MELT)
        row[:, SIGN] = -1.0 if carve else 1.0
        row[:, ROUGH] = flat(rough)

    def limb(
        self,
        ends: tuple[Place, Place],
        radii: tuple[Number, Number],
        surface: Surface,
        *,
        bend: Number = 0.0,
        melt: Number = _MELT,
        rough: Number = 0.0,
    ) -> None:
        """A limb from one place to another."""
        like = torch.zeros(self.b.scenes, device=self.b.device)
        low, high = (torch.stack([like + flat(each) for each in end], 1) for end in ends)
        way = high - low
        half = way.norm(dim=1).clamp(min=1e-4) / 2
        middle = (low + high) / 2
        self.put(
            "limb",
            tuple(middle.unbind(1)),
            (half, radii[0], radii[1]),
            surface,
            turn=towards(way),
            shape=(bend, 0.0, 1.0),
            melt=melt,
            rough=rough,
        )

    def parts(self) -> Tensor:
        """Which part each solid belongs to: those of one object with one surface are one."""
        found: dict[tuple[int, int], int] = {}
        number = torch.zeros_like(self.object_of)
        for slot, surface in self.surfaces.items():
            number[slot] = found.setdefault((int(self.object_of[slot]), id(surface)), len(found))
        return number

    def room_for(self, kind: str) -> bool:
        """Whether another solid of a kind fits."""
        units = range(max(self._unit, 0), UNITS)
        return any(slot not in self._taken for unit in units for slot in _slots_of(unit, kind))

    def _next_unit(self) -> None:
        if self._unit + 1 >= UNITS:
            message = "a scene has no more units: make fewer objects"
            raise ValueError(message)
        self._unit += 1

    def _free_slot(self, kind: str) -> int:
        while True:
            for slot in _slots_of(self._unit, kind):
                if slot not in self._taken:
                    self._taken.add(slot)
                    return slot
            self._next_unit()


def flat(value: Number) -> Number:
    """A number for each scene as (scenes)."""
    return value.reshape(-1) if isinstance(value, Tensor) else value


def turned(yaw: Number, pitch: Number, roll: Number, like: Tensor) -> Tensor:
    """A turn about the three axes, y first; (scenes, 3, 3)."""
    angles = [torch.zeros_like(like.reshape(-1)) + flat(each) for each in (yaw, pitch, roll)]
    cos, sin = [torch.cos(each) for each in angles], [torch.sin(each) for each in angles]
    one, none = torch.ones_like(cos[0]), torch.zeros_like(cos[0])
    about_y = torch.stack([cos[0], none, -sin[0], none, one, none, sin[0], none, cos[0]], 1)
    about_x = torch.stack([one, none, none, none, cos[1], sin[1], none, -sin[1], cos[1]], 1)
    about_z = torch.stack([cos[2], sin[2], none, -sin[2], cos[2], none, none, none, one], 1)
    first, second, third = (each.view(-1, 3, 3) for each in (about_y, about_x, about_z))
    return third @ second @ first


def towards(way: Tensor) -> Tensor:
    """Axes of which the second points along a way; (scenes, 3, 3)."""
    v = way / way.norm(dim=1, keepdim=True).clamp(min=1e-6)
    side = torch.where(
        v[:, :1].abs() < 0.9,
        torch.tensor([[1.0, 0, 0]], device=way.device),
        torch.tensor([[0, 0, 1.0]], device=way.device),
    )
    u = side - (side * v).sum(1, keepdim=True) * v
    u = u / u.norm(dim=1, keepdim=True)
    return torch.stack([u, v, torch.linalg.cross(u, v)], 1)


def _slots_of(unit: int, kind: str) -> list[int]:
    return [unit * len(UNIT) + at for at, name in enumerate(UNIT) if name == kind]
