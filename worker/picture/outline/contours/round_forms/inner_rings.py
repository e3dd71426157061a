"""What is in a dark round form: an iris, a pupil, the light of a window.

An iris has an edge all round, unless lids cut it. A pupil or a light is what is nearer to the
darkest or the lightest place than to what is around: a region that stays much the same at any
threshold between (Matas and others, "Robust wide baseline stereo from maximally stable extremal
regions", BMVC 2002).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles, fair_ring
from worker.picture.outline.contours.round_forms.rings import Ring, exact, rings
from worker.picture.outline.contours.round_forms.seen_picture import SeenPicture, ways
from worker.picture.outline.points.gaussian import Floats

Flags = npt.NDArray[np.bool_]
#: Radii around which an iris is sought, in those of its form; around the middle and so far aside;
#: and how much of it lids leave free.
_IRIS, _ASIDE, _FREE = (0.6, 0.8), 0.15, 0.4
#: It has so much of the outer contrast, is seen along so much of it, and is so smooth and clear.
_CONTRAST, _SEEN, _ROUGH, _CLEAR = 0.35, 0.8, 0.06, 1.5
#: A pupil and a light are sought around the darkest and the lightest places within so much of a
#: form, of which they are such a share; and have so much of the outer contrast.
_WITHIN, _EXTREME, _STANDS_OUT = 0.75, 0.03, 0.5
#: They are looked at in so many steps of the form's radius, to so many sides, and neither is larger
#: than this; so often a middle is moved to that of what is around it. They end at this
#: level between usual and extreme, or where that leads out of the form, at the next one.
_STEPS, _SIDES, _LARGEST, _ROUNDS, _LEVELS = 40, 48, 0.6, 3, (0.5, 0.6, 0.7)
#: Waves of so many columns of an iris are smoothed: it is a circle but for lids; and of a region.
_FAIR, _REGION_FAIR = 32.0, 12.0
#: They end at their form's edge at the latest, in its radii, and so many of their sides do.
_EDGE, _CUT, _NEVER = 0.95, 0.34, 1e3
#: A side faces a place of a hull by this cosine at least.
_FACING = 1e-6
#: A pupil's edge is plain where nothing is dark from so many times as far on up to the second, nor
#: so many columns beside, and at so much of it at least. No ellipse is longer than so many of its
#: radii.
_PAST, _BEYOND, _ROUNDED, _PLAINLY, _LONGER = 1.2, 1.7, 3, 0.4, 2.5
#: Equal parts of a form's area, from the middle outwards, and places around each.
_AREAS, _AROUND = 16, 32
#: What is left of a form is looked at up to its edge, and as far from what is in it, in the radii
#: of either; most of it, without what is least and most.
_TO_EDGE, _BESIDE, _MOST_OF_IT = 0.8, 2.0, (10, 90)


@dataclass(frozen=True, kw_only=True, eq=False)
class Inner:
    """Forms within a form.

    Attributes:
        iris, pupil, light: Each, or none.
        uneven: How much levels differ in what is left, in parts of the form's contrast.
    """

    iris: Ring | None
    pupil: Ring | None
    light: Ring | None
    uneven: float


def inner_rings(seen: SeenPicture, outer: Ring) -> Inner:
    """Those of one form.

    Args:
        seen: The picture around it.
        outer: The form.
    """
    iris, least = _iris(seen, outer), _STANDS_OUT * outer.contrast
    host = iris or outer
    pupil = None if iris is None else _region(seen, host, least, light=False)
    light = _region(seen, pupil or host, least, light=True)
    # A window is drawn as a round light.
    light = light and (_ellipse(light, np.ones(len(light.radii), np.bool_)) or light)
    return Inner(
        iris=iris,
        pupil=pupil and _whole(seen, pupil, host),
        light=light,
        uneven=_differing(seen, host, [pupil, light]) / outer.contrast,
    )


def _differing(seen: SeenPicture, host: Ring, inner: list[Ring | None]) -> float:
    """How much levels differ in a form outside of what is in it."""
    places = _places(host, _TO_EDGE)
    levels = seen.at(places)
    for one in inner:
        if one is not None:
            levels = np.where(one.far(places) < _BESIDE, np.float32(np.nan), levels)
    left = levels[~np.isnan(levels)]
    if not len(left):
        return np.inf
    low, high = np.percentile(left, _MOST_OF_IT)
    return float(high - low)


def _iris(seen: SeenPicture, outer: Ring) -> Ring | None:
    """The best light ring around some middles, if one is clear."""
    middles = outer.centre + _ASIDE * outer.radius * np.concatenate((ways(4), np.zeros((1, 2))))
    discs = np.array([[*middle, one * outer.radius] for middle in middles for one in _IRIS])
    found = rings(seen, discs, light=True, within=outer)
    discs = np.array([[*one.centre, one.radius] for one in found])
    found = rings(seen, discs, light=True, within=outer)
    found = [one for one in found if _is_iris(one.cut_by(outer), outer)]
    if not found:
        return None
    best = max(found, key=lambda one: float(np.clip(one.step, 0, outer.contrast).sum()))
    return exact(seen, best, light=True, length=_FAIR)


def _is_iris(free: Ring, outer: Ring) -> bool:
    if len(free.step) < _FREE * len(free.radii) or free.rough > _ROUGH:
        return False
    return free.contrast > _CONTRAST * outer.contrast and free.clear > _CLEAR and free.seen > _SEEN


def _region(seen: SeenPicture, host: Ring, least: float, *, light: bool) -> Ring | None:
    """What is nearer to the extreme levels of a form than to its usual ones, if it is one form."""
    sign = 1 if light else -1
    places = _places(host, _WITHIN).reshape(-1, 2)
    levels = sign * seen.at(places)
    order = np.argsort(-levels)[: int(_EXTREME * len(levels))]
    extreme, usual = float(levels[order].mean()), float(np.median(levels))
    if extreme - usual < least:
        return None
    start = Ring(
        middle=np.median(places[order], axis=0),
        radii=np.zeros(_SIDES),
        step=np.full(_SIDES, extreme - usual, np.float32),
        inside=np.full(_SIDES, sign * extreme, np.float32),
        outside=np.full(_SIDES, sign * usual, np.float32),
    )
    for share in _LEVELS:
        ring = _above(seen, start, usual + share * (extreme - usual), host, sign)
        at_edge = float((host.far(ring.outline) > _EDGE - 1 / _STEPS).mean())
        if 0 < ring.radius < _LARGEST * host.radius and at_edge < _CUT:
            return _convex(ring)
    return None


def _above(seen: SeenPicture, start: Ring, level: float, host: Ring, sign: int) -> Ring:
    """What is above a level around a middle and within a form, or below it."""
    ring, step = start, host.radius / _STEPS
    rows = np.arange(_STEPS) * step
    for _ in range(_ROUNDS):
        middle = ring.centre
        places = middle + rows[:, None, None] * ways(_SIDES)
        levels = np.where(host.far(places) > _EDGE, np.float32(-_NEVER), sign * seen.at(places))
        radii = _first_below(levels, level)
        if radii is None:
            break
        ring = replace(ring, middle=middle, radii=radii * step)
    return ring


def _first_below(across: Floats, level: float) -> Doubles | None:
    """The row to a fraction from which on each column is below a level, if there is one in all."""
    below = across < level
    if below[0].any() or not below.any(axis=0).all():
        return None
    first = below.argmax(axis=0)
    one, two = (np.take_along_axis(across, first[None] - off, axis=0)[0] for off in (1, 0))
    return np.asarray(first - 1 + (one - level) / (one - two), np.float64)


def _convex(ring: Ring) -> Ring:
    """The fair convex hull of a ring: a light in front of a pupil takes nothing away from it."""
    sides = ways(len(ring.radii))
    support = ((ring.outline - ring.middle) @ sides.T).max(axis=0)
    facing = sides @ sides.T
    far = np.where(facing > _FACING, support / np.maximum(facing, _FACING), np.inf)
    return replace(ring, radii=fair_ring(far.min(axis=1), _REGION_FAIR))


def _whole(seen: SeenPicture, pupil: Ring, host: Ring) -> Ring:
    """A pupil as the ellipse that it is seen as, where what is mirrored on it hides its edge.

    Beyond its edge all is an iris as far as that goes; where it is dark again, the edge is that of
    something mirrored. The ellipse passes through the rest, if that is most of it.
    """
    far = np.linspace(1, _BEYOND, _STEPS)[:, None, None]
    places = pupil.middle + far * (pupil.outline - pupil.middle)
    usual = float(np.median(pupil.outside))
    dark = (seen.at(places) < (usual + float(pupil.inside[0])) / 2) & (far[..., 0] > _PAST)
    dark |= host.far(places) > _EDGE
    # Beside what is hidden the edge is rounded.
    dark = np.pad(dark.any(axis=0), _ROUNDED, mode="wrap")
    beside = np.lib.stride_tricks.sliding_window_view(dark, 2 * _ROUNDED + 1)
    plain: Flags = ~np.asarray(beside.any(axis=1))
    if plain.mean() < _PLAINLY:
        return pupil
    ellipse = _ellipse(pupil, plain)
    return pupil if ellipse is None else _within_edge(ellipse, host)


def _ellipse(ring: Ring, which: Flags) -> Ring | None:
    """The ellipse that fits some places of a ring best, or none if no ellipse does."""
    x, y = ((ring.outline - ring.middle)[which] / ring.radius).T
    powers = np.stack((x * x, x * y, y * y, x, y), axis=1)
    a, b, c, d, e = np.linalg.lstsq(powers, np.ones(len(x)), rcond=None)[0]
    form = np.array([[2 * a, b], [b, 2 * c]])
    if 4 * a * c - b * b <= 0 or a <= 0:
        return None
    centre = np.linalg.solve(form, (-d, -e))
    size = 1 + (d * centre[0] + e * centre[1]) / -2
    side = ways(len(ring.radii))
    radii = np.sqrt(size / ((side @ form) * side).sum(axis=1) * 2)
    if radii.max() > _LONGER:
        return None
    return replace(ring, middle=ring.middle + centre * ring.radius, radii=radii * ring.radius)


def _within_edge(ring: Ring, host: Ring) -> Ring:
    """A ring that ends at the edge of its form."""
    far = np.linspace(0, 1, _STEPS + 1)[:, None, None]
    inside = host.far(ring.middle + far * (ring.outline - ring.middle)) < _EDGE
    return replace(ring, radii=ring.radii * inside.mean(axis=0))


def _places(host: Ring, within: float) -> Doubles:
    """Places of a form, as many on any part of its area: (areas, around, 2)."""
    far = within * np.sqrt((np.arange(_AREAS) + 0.5) / _AREAS)
    columns = np.arange(_AROUND) * len(host.radii) // _AROUND
    return np.asarray(host.middle + far[:, None, None] * (host.outline[columns] - host.middle))
