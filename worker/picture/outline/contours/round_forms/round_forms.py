"""Dark round forms that are drawn as what they are: closed, and with nothing across.

Leaves leave dark gaps, bricks and knots are dark, and any of them may be round. So a form must be
seen all round, be smooth, stand alone, and have in it what an eye has and nothing else: an iris
with a pupil, or a light on plain black. All others, as buttons, their own edges draw well.
"""

from __future__ import annotations

from itertools import islice

import numpy as np

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.contours.plain_forms import PlainForms
from worker.picture.outline.contours.round_forms.discs import dark_discs
from worker.picture.outline.contours.round_forms.forms import LEAST_MM, Flags, RoundForm, RoundForms
from worker.picture.outline.contours.round_forms.inner_rings import Inner, inner_rings
from worker.picture.outline.contours.round_forms.likely_discs import likely_discs
from worker.picture.outline.contours.round_forms.rings import Ring, exact, rings
from worker.picture.outline.contours.round_forms.seen_picture import (
    SeenPicture,
    seen_around,
    seen_picture,
)
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.sampled_picture import SampledPicture

#: Pixels in which forms are found, in mm; and those in which one is drawn, in its radii.
_PIXEL_MM, _FINE = 1.0, 0.05
#: How far around a form the picture is looked at, in its radii.
_AROUND = 3.0
#: A form has so many levels of contrast, is seen along so much of it, so clear and so smooth.
_CONTRAST, _SEEN, _CLEAR, _ROUGH = 45.0, 0.88, 2.0, 0.055
#: The widest that its edge is, in its radii: what is softer is out of focus.
_SOFT = 0.4
#: So smooth it is where its edge is known but coarsely.
_COARSELY_ROUGH = 0.075
#: So many candidates that most edges speak for are looked at, and so many of these closely.
_CANDIDATES, _MOST = 1500, 6
#: Two of which this part of a radius lies between their middles are one.
_ONE = 0.6
#: No more than so many that are like it are around.
_MOST_ALIKE = 8
#: A pupil is at least so large, in radii of its iris; and what is left of a plain form differs by
#: so much of its contrast at most.
_PUPIL, _PLAIN = 0.15, 0.6
#: A light ring is about so large, in radii, and reaches so far beyond the form at least; it has so
#: much of its contrast, and is seen along so much of it.
_RIM, _RIM_FROM, _RIM_CONTRAST, _RIM_SEEN = 1.6, 1.1, 0.35, 0.8


def round_forms(
    points: Points, placed: PlacedReading, sampled: SampledPicture, plain: PlainForms
) -> RoundForms:
    """Those that are seen clearly.

    Args:
        points: Of edges.
        placed: The reading, which knows where faces are: they have eyes of their own.
        sampled: The picture.
        plain: Where lettering is.
    """
    discs = dark_discs(points, sampled.shape, sampled.pitch_mm)
    discs = discs[_elsewhere(discs, placed, plain)][:_CANDIDATES]
    seen = seen_picture(sampled.grey, _PIXEL_MM / sampled.pitch_mm)
    likely = likely_discs(seen, discs)
    clearest = sorted(rings(seen, likely.best), key=lambda one: -one.clear * one.seen**2)
    alone = (one for one in clearest if _is_form(one) and likely.alike(one) <= _MOST_ALIKE)
    found: list[RoundForm] = []
    for ring in islice(alone, _MOST):
        form = _form(sampled, ring) if all(_apart(ring, one.outer) for one in found) else None
        if form is not None:
            found.append(form)
    return RoundForms(forms=tuple(found), pitch_mm=sampled.pitch_mm)


def _elsewhere(discs: Doubles, placed: PlacedReading, plain: PlainForms) -> Flags:
    """Which discs are not in heads or plain forms."""
    x, y = discs[:, :2].astype(np.float32).T
    elsewhere = ~plain.within(x, y)
    across, down = placed.shares(x, y)
    for face in placed.reading.faces:
        head = face.head
        inside = (across > head.left) & (across < head.left + head.width)
        inside &= (down > head.top) & (down < head.top + head.height)
        elsewhere &= ~inside
    return np.asarray(elsewhere)


def _apart(one: Ring, two: Ring) -> bool:
    return float(np.hypot(*(one.centre - two.centre))) > _ONE * max(one.radius, two.radius)


def _is_form(ring: Ring) -> bool:
    clear = ring.contrast > _CONTRAST and ring.seen > _SEEN and ring.clear > _CLEAR
    return clear and ring.rough < _COARSELY_ROUGH


def _form(sampled: SampledPicture, ring: Ring) -> RoundForm | None:
    """A form where it is exactly, if it is one."""
    far = _AROUND * float(ring.radii.max())
    seen = seen_around(sampled.grey, ring.middle, far, _FINE * ring.radius)
    # Around its own middle a form is hardly out of round.
    ring = exact(seen, rings(seen, np.array([[*ring.centre, ring.radius]]))[0])
    if ring.contrast <= _CONTRAST:
        return None
    if ring.rough > _ROUGH or ring.width > _SOFT * ring.radius or not _within(ring, sampled):
        return None
    inner = inner_rings(seen, ring)
    if not _has_pupil(inner) and not _has_light(inner, LEAST_MM / 2 / sampled.pitch_mm):
        return None
    rim = _rim(seen, ring)
    rim = rim if rim is not None and _within(rim, sampled) else None
    return RoundForm(outer=ring, inner=inner, rim=rim)


def _within(ring: Ring, sampled: SampledPicture) -> bool:
    """Whether all of it is in the picture."""
    last = np.array(sampled.shape[::-1]) - 1
    return bool((ring.outline >= 0).all() and (ring.outline <= last).all())


def _rim(seen: SeenPicture, outer: Ring) -> Ring | None:
    """The outer edge of a light ring around a form, if that is as clear as the form."""
    disc = np.array([[*outer.centre, _RIM * outer.radius]])
    rim = rings(seen, disc, light=True)[0]
    if rim.contrast < _RIM_CONTRAST * outer.contrast or rim.seen < _RIM_SEEN:
        return None
    rim = exact(seen, rim, light=True)
    around = float(outer.far(rim.outline).min()) > _RIM_FROM
    return rim if around and rim.rough < _ROUGH else None


def _has_pupil(inner: Inner) -> bool:
    if inner.iris is None or inner.pupil is None:
        return False
    return inner.pupil.radius > _PUPIL * inner.iris.radius


def _has_light(inner: Inner, least: float) -> bool:
    if inner.iris is not None or inner.light is None:
        return False
    return inner.light.radius > least and inner.uneven < _PLAIN
