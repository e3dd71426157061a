"""A canvas that knows its contours: what is painted, and where a person would draw a line.

Things are painted from back to front. Whatever is covered is forgotten, its lines too. A border
between two parts is a line: an outer one where the things differ, an inner one within a thing.
Marks are lines upon a part. Texture, shadows and lights are none.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import IntEnum

import torch
import torch.nn.functional as F  # noqa: N812 - the library's own short name.
from fields import Batch, blurred, fused
from torch import Tensor

#: Difference in value that makes a border as plain as it can be, and how less of it counts: a
#: form is drawn where it can just be seen, so half as plain is far more than half a line.
_PLAIN, _FAINTER = 0.055, 0.6
#: In the dark less of a difference is as plain: down to so much of it, below so much light.
_DARKEST, _LIT = 0.5, 0.35
#: A faint place of a border that is plain elsewhere counts so much of it: lines are drawn through.
_THROUGH = 0.75
#: Over how many pixels that is looked at.
_ALONG_PX = 41
#: Folds are lesser lines, and what lies so much out of focus (1/px) behind something that does not.
_FOLD, _BLUR_COUNTS, _IN_FOCUS_PX = 0.85, 0.3, 0.7
#: A background that lies out of focus as a whole counts still less.
_BEHIND_COUNTS = 0.6
#: Beside a border that is less of a line than this nothing is asked, so many pixels around.
_DOUBTFUL, _AROUND_PX = 0.3, 7
#: At most so many alike parts are painted at once.
_ALIKE = 64
#: Blurs between which that of a lens is found.
_BLURS_PX = (0.0, 1.0, 2.0, 4.0)


class Kind(IntEnum):
    """What a part is of, where that matters to who draws it."""

    ANY = 0
    LEAVES = 1
    HAIR = 2
    SKIN = 3


@dataclass(frozen=True)
class Paint:
    """What a part is painted with.

    Attributes:
        colour: (scenes, 3, 1, 1), 0 to 1.
        grain: (scenes, rows, columns): the texture, zero mean.
        amount: (scenes, 1, 1): its deviation.
        tint: (scenes, 3, 1, 1): how much of it goes into each colour.
        kind: What it is to be.
    """

    colour: Tensor
    grain: Tensor
    amount: Tensor
    tint: Tensor
    kind: Kind = Kind.ANY

    def lit(self, light: Tensor) -> Tensor:
        """Its colour under a light that varies over the part, without its texture."""
        return (self.colour * light[:, None]).clamp(0, 1)


@dataclass(frozen=True)
class Solid:
    """What is seen of solid things; (scenes, rows, columns), and pictures (scenes, 3, …).

    Attributes:
        image, plain: With and without texture.
        cover: How much of each pixel it covers, 0 to 1.
        part, thing: Which part and which thing is seen, from 0.
        worth: How much of a line a part's border within the same thing is.
        amount: Deviation of the texture.
        edges: By axis (1 down, 2 across): how much of a line there is between a pixel and the one
            before where both are one part, which hides itself or has a sharp edge.
        shadow: How much light cast shadows take.
        kind: Number of the kind of what is seen.
        ground: Whether it is a floor or a wall.
    """

    image: Tensor
    plain: Tensor
    cover: Tensor
    part: Tensor
    thing: Tensor
    worth: Tensor
    amount: Tensor
    edges: dict[int, Tensor]
    shadow: Tensor
    kind: Tensor
    ground: Tensor


class Canvas:
    """Pictures of a batch of scenes, with their lines.

    Attributes:
        image: (scenes, 3, rows, columns).
        plain: The same without texture, by which it is judged how plain a border is.
        upon: Whether parts painted from now on belong to the things that they are painted on.
        main: Whether they are of what the picture is of.
        tells_main: How surely it is known what the picture is of, 0 to 1.
    """

    def __init__(self, batch: Batch, paint: Paint, light: Tensor) -> None:
        self.batch = batch
        shape = (batch.scenes, batch.side_px, batch.side_px)
        zero = torch.zeros(shape, device=batch.device)
        self.plain = paint.lit(light + zero)
        self.image = self.plain + (paint.amount * paint.grain)[:, None] * paint.tint
        self._part, self._thing = zero.clone(), zero.clone()
        self._amount = paint.amount.expand(shape).clone()
        self._mark, self._line, self._thread = zero.clone(), zero.clone(), zero.clone()
        self._shadow, self._worth = zero.clone(), torch.ones_like(zero)
        self._sharp = torch.ones_like(zero)
        self._main, self._kind = zero.clone(), torch.full_like(zero, float(paint.kind))
        self._edges = {axis: zero.clone() for axis in (1, 2)}
        self._parts = self._things = 0
        self.upon, self.main, self.tells_main = False, False, 0.0
        self._mirror = batch.side_px

    def new_thing(self) -> None:
        """What is painted from now on is another thing."""
        self._things += 1

    @contextmanager
    def behind(self) -> Iterator[None]:
        """What is painted meanwhile is not of what the picture is of."""
        main, self.main = self.main, False
        yield
        self.main = main

    def part(
        self,
        distance_px: Tensor,
        paint: Paint,
        light: Tensor,
        *,
        worth: float = 1.0,
        drawn: Tensor | None = None,
        cover: Tensor | None = None,
        each: Tensor | None = None,
    ) -> None:
        """Paint a part.

        Args:
            distance_px: Negative inside.
            paint: What with.
            light: Light on it, about 1; (scenes, rows, columns).
            worth: How much of a line its border within the same thing is.
            drawn: 1 for scenes where it is one, 0 where it is too small: (scenes, 1, 1).
            cover: How much of each pixel it covers, 0 to 1, where that is more or less than its
                outline says: hairs across it, a soft edge. The line is judged by the outline.
            each: For many alike parts that do not overlap: which one a pixel would be of, from 0
                up to `_ALIKE`.
        """
        self._parts += 1
        inside, fair = distance_px < 0, torch.sigmoid(-distance_px / 0.6)
        self._cover(fair.clone() if cover is None else cover, paint, light, fair)
        self._kind = torch.where(inside, float(paint.kind), self._kind)
        if not self.upon:
            self._main = torch.where(inside, float(self.main), self._main)
        if drawn is not None:
            inside = inside & (drawn > 0)
        number = torch.full_like(self._part, self._parts)
        if each is not None:
            number, self._parts = number + each, self._parts + _ALIKE
        self._part = torch.where(inside, number, self._part)
        if not self.upon:
            thing = torch.full_like(self._thing, self._things)
            self._thing = torch.where(inside, thing, self._thing)
        self._worth = torch.where(inside, torch.full_like(self._worth, worth), self._worth)
        self._amount = torch.where(inside, paint.amount.expand_as(self._amount), self._amount)
        self._sharp = torch.where(inside, torch.ones_like(self._sharp), self._sharp)
        self._forget(inside)

    def solid(self, seen: Solid) -> None:
        """Put solid things on it, with their own light and shadows."""
        over, inside = seen.cover[:, None], seen.cover > 0.5
        self.image = self.image * (1 - over) + seen.image * over
        self.plain = self.plain * (1 - over) + seen.plain.clamp(0, 1) * over
        self._forget(inside)
        self._part = torch.where(inside, self._parts + 1 + seen.part, self._part)
        self._thing = torch.where(inside, self._things + 1 + seen.thing, self._thing)
        self._parts += 1 + int(seen.part.max())
        self._things += 1 + int(seen.thing.max())
        self._kind = torch.where(inside, seen.kind, self._kind)
        self._main = torch.where(inside, self.main * (1 - seen.ground), self._main)
        self._amount = torch.where(inside, seen.amount, self._amount)
        self._worth = torch.where(inside, seen.worth, self._worth)
        self._sharp = torch.where(inside, torch.ones_like(self._sharp), self._sharp)
        for axis, edge in seen.edges.items():
            self._edges[axis] = torch.where(inside, edge, self._edges[axis])
        slope = torch.hypot(_slope(seen.shadow, 2), _slope(seen.shadow, 1)) * inside
        self._shadow = torch.maximum(self._shadow, 1.5 * slope * self.plain.mean(1))

    def blur(self, sigma_px: Tensor) -> None:
        """Blur each place by its own amount, (scenes, rows, columns): what a lens leaves soft."""
        for name in ("image", "plain"):
            sharp = getattr(self, name)
            levels = [sharp, *(blurred(sharp, sigma) for sigma in _BLURS_PX[1:])]
            soft = sharp
            for low, high, below, above in zip(
                _BLURS_PX, _BLURS_PX[1:], levels, levels[1:], strict=False
            ):
                share = ((sigma_px - low) / (high - low)).clamp(0, 1)[:, None]
                soft = torch.where(share > 0, torch.lerp(below, above, share), soft)
            setattr(self, name, soft)
        self._sharp = self._sharp / (1 + _BLUR_COUNTS * (sigma_px - _IN_FOCUS_PX).clamp(min=0))

    def fray(self, across_px: Tensor, down_px: Tensor) -> None:
        """Move what is seen by so much, (scenes, rows, columns): hairs across an outline.

        The line stays where it is: it is drawn along hair, not along hairs.
        """
        side = self.batch.side_px
        x, y = self.batch.pixels()
        places = torch.stack([x + across_px, y + down_px], -1) * (2 / side) - 1
        self.image = F.grid_sample(self.image, places, padding_mode="border", align_corners=False)

    def _forget(self, inside: Tensor) -> None:
        """What was covered is no line any more."""
        for name in ("_mark", "_line", "_thread", "_shadow"):
            lines = getattr(self, name)
            setattr(self, name, torch.where(inside, torch.zeros_like(lines), lines))
        for axis, edge in self._edges.items():
            self._edges[axis] = torch.where(inside, torch.zeros_like(edge), edge)

    def thread(
        self,
        off_px: Tensor,
        half_px: Tensor | float,
        paint: Paint,
        *,
        mark: bool = False,
        drawn: Tensor | None = None,
    ) -> None:
        """Paint something so thin that it is one line along its middle.

        Args:
            off_px: Distance to its middle.
            half_px: Half of its width.
            paint: What with.
            mark: Whether it is a lesser line, upon something.
            drawn: As of parts.
        """
        cover = torch.sigmoid((half_px - off_px) / 0.5)
        before = self.plain
        self._cover(cover, paint, torch.ones_like(cover), cover.clone())
        if not self.upon:
            self._main = torch.where(cover > 0.5, float(self.main), self._main)
        level = before.mean(1)
        seen = _plainly((self.plain - before).abs().mean(1), level) * _middle(off_px)
        if drawn is not None:
            seen = seen * drawn
        self._sharp = torch.where(seen > 0, torch.ones_like(self._sharp), self._sharp)
        self._thread = torch.maximum(self._thread, seen)
        if mark:
            self._mark = torch.maximum(self._mark, seen)

    def crease(
        self,
        distance_px: Tensor,
        side: Tensor,
        strength: Tensor,
        wide_px: Tensor,
        *,
        soft_px: Tensor | float = 0.7,
        drawn: Tensor | None = None,
    ) -> None:
        """A fold: a step in light along a curve that fades away on one side.

        Args:
            distance_px: To the curve.
            side: 1 or -1.
            strength: How much light it takes (or gives), faded towards the curve's ends.
            wide_px: How far it reaches.
            soft_px: How soft its step is.
            drawn: As of parts.
        """
        shade = torch.exp(-distance_px / wide_px) * torch.sigmoid(side * distance_px / soft_px)
        light = (1 + strength * shade)[:, None].clamp(0.05, 2)
        self.image, self.plain = self.image * light, (self.plain * light).clamp(0, 1)
        level = self.plain.mean(1)
        seen = _plainly(strength.abs() * level, level) * _middle(distance_px)
        if drawn is not None:
            seen = seen * drawn
        # A fold is a line only where its step is crisp against its width.
        self._mark = torch.maximum(self._mark, seen)
        self._line = torch.maximum(self._line, _FOLD * seen)

    def shade(self, light: Tensor) -> None:
        """Light or shade without an edge, over what is painted."""
        self.image = self.image * light[:, None]
        self.plain = (self.plain * light[:, None]).clamp(0, 1)

    def shadow(self, cover: Tensor, deep: Tensor, soft_px: float) -> None:
        """A cast shadow or, where `deep` is negative, a light spot.

        Args:
            cover: 0 to 1, before it is softened.
            deep: How much light it takes.
            soft_px: Blur of its edge.
        """
        soft = blurred(cover[:, None], soft_px)[:, 0]
        self.shade((1 - soft * deep).clamp(0.02, 2))
        edge = torch.hypot(_slope(soft, 2), _slope(soft, 1)) * deep.abs() * self.plain.mean(1)
        # A soft edge is spread over its width: what counts is the step as a whole.
        self._shadow = torch.maximum(self._shadow, edge * (1.5 + 2.2 * soft_px))

    def shine(self, cover: Tensor, colour: Tensor, soft_px: float) -> None:
        """Gloss: a light that is seen in a surface and has no contour, however crisp its edge.

        Args:
            cover: 0 to 1, before it is softened.
            colour: Of the light, (scenes, 3, 1, 1).
            soft_px: Blur of its edge.
        """
        soft = blurred(cover[:, None], soft_px)
        step = (colour - self.plain).abs().mean(1)
        self.image = torch.lerp(self.image, colour.expand_as(self.image), soft)
        self.plain = torch.lerp(self.plain, colour.expand_as(self.plain), soft)
        edge = torch.hypot(_slope(soft[:, 0], 2), _slope(soft[:, 0], 1)) * step
        self._shadow = torch.maximum(self._shadow, edge * (1.5 + 2.2 * soft_px))

    def defocus(self, sigma_px: float) -> None:
        """All that is painted so far lies out of focus."""
        self.image = blurred(self.image, sigma_px)
        self.plain = blurred(self.plain, sigma_px)
        # What comes later in focus is what the picture is of.
        self._sharp = self._sharp / (1 + _BEHIND_COUNTS * max(sigma_px - _IN_FOCUS_PX, 0))
        if sigma_px > 2:
            self._part, self._worth = self._thing.clone(), torch.ones_like(self._worth)
            self._parts = max(self._parts, self._things)

    def water(self, row: int) -> None:
        """From a row downwards there is a reflection, of which nothing is asked but its shore."""
        self._mirror = row

    def labels(self) -> tuple[Tensor, Tensor]:
        """What is to be read, and where it is asked.

        Returns:
            (scenes, 8, rows, columns), 0 to 1: contour, outer, mark, shadow, what the picture is
            of, leaves, hair, skin; and how much each place of the first five counts.
        """
        part, thing, seen, sharp = self._borders()
        through = _box(seen, _ALONG_PX) / (_box(part, _ALONG_PX) + 1e-3)
        border = torch.maximum(seen, _THROUGH * part * through) * part * sharp
        lines = torch.maximum(self._line, self._thread) * self._sharp
        contour = torch.maximum(border, lines)
        outer = _wider(thing * sharp)
        mark = _wider(self._mark) * (outer == 0)
        shadow = _wider((self._shadow / _PLAIN).clamp(0, 1)) * (_wider(contour) < 0.2)
        kinds = [(self._kind == kind).float() for kind in (Kind.LEAVES, Kind.HAIR, Kind.SKIN)]
        planes = [contour, outer, mark, shadow, self._main, *kinds]
        return torch.stack(planes, 1), self._asked(contour, part)

    def _cover(self, cover: Tensor, paint: Paint, light: Tensor, fair: Tensor) -> None:
        """Cover what is seen, and what lines are judged by; two tensors, for one fused program."""
        grain = (paint.grain, paint.amount, paint.tint)
        light = light + torch.zeros_like(cover)
        self.image, self.plain = _covered(
            self.image, self.plain, (cover, fair), light, paint.colour, *grain
        )

    def _borders(self) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Where parts meet, where things meet, how plainly, and how sharp the sharper side is.

        A border runs between pixels, and those on both sides of it have it.
        """
        part, thing, seen, sharp = (torch.zeros_like(self._part) for _ in range(4))
        level = _around(self.plain.mean(1))
        for axis in (1, 2):
            other, beside = _moved(self._part, 1, axis), _moved(self._thing, 1, axis)
            edge = self._edges[axis] * (self._part == other)
            differs = ((self._part != other) | (edge > 0)).float()
            things = (self._thing != beside).float()
            step = torch.maximum(self._step(axis, -2, 3), self._step(axis, -1, 2))
            grain = (_moved(self._amount, -2, axis) - _moved(self._amount, 3, axis)).abs()
            # What was painted later lies in front, and the border is its own.
            worth = torch.where(self._part > other, self._worth, _moved(self._worth, 1, axis))
            worth = torch.where(edge > 0, edge, worth)
            counts = torch.where(things > 0, torch.ones_like(worth), worth)
            plain = differs * counts * _plainly(step + 0.5 * grain, level)
            focus = differs * torch.maximum(self._sharp, _moved(self._sharp, 1, axis))
            part, thing = _both(part, differs, axis), _both(thing, things, axis)
            seen, sharp = _both(seen, plain, axis), _both(sharp, focus, axis)
        return part, thing, seen, sharp

    def _step(self, axis: int, ahead: int, behind: int) -> Tensor:
        ahead_of, behind_it = (_moved(self.plain, by, axis + 1) for by in (ahead, behind))
        return (ahead_of - behind_it).abs().mean(1)

    def _asked(self, contour: Tensor, part: Tensor) -> Tensor:
        """Beside a doubtful border nothing is asked; of kinds only lines are."""
        near, plain = (
            F.max_pool2d(each[:, None], _AROUND_PX, 1, _AROUND_PX // 2)[:, 0]
            for each in (part, contour)
        )
        doubtful = near * (plain < _DOUBTFUL) * (contour == 0)
        kind = (_wider(contour) > 0.2).float()
        main = torch.full_like(contour, self.tells_main)
        asked = torch.stack([1 - doubtful, kind, kind, 1 - near * (contour == 0), main], 1)
        inside = torch.ones_like(asked)
        inside[..., self._mirror - 2 :, :] = 0
        return asked * inside


@fused
def _covered(
    image: Tensor,
    plain: Tensor,
    covers: tuple[Tensor, Tensor],
    light: Tensor,
    colour: Tensor,
    grain: Tensor,
    amount: Tensor,
    tint: Tensor,
) -> tuple[Tensor, Tensor]:
    flat = (colour * light[:, None]).clamp(0, 1)
    over, fair = (cover[:, None] for cover in covers)
    grained = flat + (amount * grain)[:, None] * tint
    return image * (1 - over) + grained * over, plain * (1 - fair) + flat * fair


def _plainly(step: Tensor, level: Tensor) -> Tensor:
    """How much of a line a step in value is, 0 to 1, where it is so light."""
    plain = _PLAIN * (_DARKEST + (1 - _DARKEST) * (level / _LIT).clamp(0, 1))
    return (step / plain).clamp(1e-6, 1) ** _FAINTER * (step > 0)


def _around(level: Tensor) -> Tensor:
    """The most light within a few pixels: a step up from the dark is seen by its light side."""
    return F.max_pool2d(level[:, None], _AROUND_PX, 1, _AROUND_PX // 2)[:, 0]


def _middle(off_px: Tensor) -> Tensor:
    """1 on a line, 0 from one and a half pixels off."""
    return (1.5 - off_px).clamp(0, 1)


def _both(most: Tensor, differs: Tensor, axis: int) -> Tensor:
    """The most of what was found and what differs from the pixel before, on both sides."""
    return torch.maximum(most, torch.maximum(differs, _moved(differs, -1, axis)))


def _wider(x: Tensor) -> Tensor:
    return F.max_pool2d(x[:, None], 3, 1, 1)[:, 0]


def _box(x: Tensor, side_px: int) -> Tensor:
    return F.avg_pool2d(x[:, None], side_px, 1, side_px // 2, count_include_pad=False)[:, 0]


def _slope(x: Tensor, axis: int) -> Tensor:
    return (_moved(x, -1, axis) - _moved(x, 1, axis)) / 2


def _moved(x: Tensor, by: int, axis: int) -> Tensor:
    """Moved along an axis; what is beyond the edge is as the edge."""
    at = torch.arange(x.shape[axis], device=x.device) - by
    return x.index_select(axis, at.clamp(0, x.shape[axis] - 1))
