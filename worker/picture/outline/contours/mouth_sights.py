"""What of a mouth is seen at each place below a nose, for `mouths`.

Lips differ from skin in hue more than in tone: red counts more beside green in them. Between them it is dark, or there are teeth, which are lighter and less red.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.contours.face_frames import Patch
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.picture.outline.points.sampled_picture import SampledPicture

#: Skin has the usual values of the part without so much of it at either side, and tone counts in
#: parts of this, at least of that.
_SIDES, _TONE, _LEAST_TONE = 0.2, 140.0, 60.0
#: Levels of an edge that is plain, and of a valley; red of such an edge, and of one to teeth.
_EDGE, _VALLEY, _RED_EDGE, _TEETH_EDGE = 30.0, 22.0, 0.035, 0.05
#: Skin is less red than usual by so much at the most; what is less is teeth or is behind.
_SKIN = 0.01
#: How much redder than skin lips are, and how far from that between lip and skin is either.
_LIPS, _HALF = 0.04, 0.5
#: As light are teeth, beside skin, as dark is what is between lips; they are as much less red.
_TEETH, _DARK, _UNRED, _SURELY = 0.85, 0.62, 0.05, 0.3
#: A place counts as of the mouth, or of what is between lips, no more than this either way; and
#: how much places count beside edges.
_PLACE, _PLACES_COUNT = 0.7, 0.06
#: How much edges of red and of tone count.
_BY_RED, _BY_TONE, _BELOW_TONE, _INSIDE = 0.65, 0.35, 0.1, 0.4


@dataclass(frozen=True, kw_only=True)
class MouthSights:
    """How well each curve of a mouth would lie at places of a patch; (rows, columns) each.

    Sums down from the top make what lies between two curves count: the upper one's are negative.

    Attributes:
        upper, lower: Outer edges of both lips.
        parting: Where closed lips part.
        over, under: The edges of what is between open lips.
        rim: Edges of `upper` alone, for what is to be drawn.
        sill: The same of `lower`.
    """

    upper: Floats
    lower: Floats
    parting: Floats
    over: Floats
    under: Floats
    rim: Floats
    sill: Floats


def mouth_sights(patch: Patch, sampled: SampledPicture) -> MouthSights:
    """What is seen of a mouth.

    Args:
        patch: The part below a nose.
        sampled: The picture, in colour.
    """
    light = patch.sampled(sampled.grey)
    red = box_mean(patch.redness(light, sampled.chroma), 1)
    light = box_mean(light, 1)
    aside = round(_SIDES * patch.columns)
    skin = float(np.median(red[:, aside:-aside]))
    tone = float(np.median(light[:, aside:-aside]))
    scale = np.float32(max(tone, _LEAST_TONE) / _TONE)
    falls = _limited(-_step(light) / (_EDGE * scale))
    sides = np.minimum(_moved(light, -3), _moved(light, 3))
    parting = np.clip((sides - light) / (_VALLEY * scale), -0.5, 1.2)
    # What is less red than skin is as skin is: teeth have edges of their own.
    rises = _limited(_step(np.maximum(red, np.float32(skin - _SKIN))) / _RED_EDGE)
    to_red = _limited(_step(red) / _TEETH_EDGE)
    lips = (red - skin) / np.float32(_LIPS) - np.float32(_HALF)
    teeth = np.minimum(
        (skin + _SKIN - red) / _UNRED, (light - _TEETH * tone) / (_EDGE * scale)
    ) - np.float32(_SURELY)
    dark = (_DARK * tone - light) / (_EDGE * scale)
    mouth = _summed(np.maximum(lips, teeth))
    between = _summed(np.maximum.reduce((teeth, dark, -0.5 * lips - 0.2)))
    rim = _BY_RED * rises + _BY_TONE * falls
    sill = -_BY_RED * rises + _BELOW_TONE * np.abs(falls)
    inner = _INSIDE * np.abs(falls)
    return MouthSights(
        upper=rim - mouth,
        lower=sill + mouth,
        parting=parting,
        over=inner - _INSIDE * to_red - between,
        under=inner + _INSIDE * to_red + between,
        rim=rim,
        sill=sill,
    )


def _moved(values: Floats, rows: int) -> Floats:
    """The value so many rows below each place; the last ones go on."""
    return values[np.clip(np.arange(len(values)) + rows, 0, len(values) - 1)]


def _step(values: Floats) -> Floats:
    """How much more it is below than above."""
    return _moved(values, 2) - _moved(values, -2)


def _limited(values: Floats) -> Floats:
    return np.asarray(np.clip(values, -1, 1), np.float32)


def _summed(values: Floats) -> Floats:
    """Sums from the top of places that count either way."""
    limited = np.clip(values, -_PLACE, _PLACE)
    return np.asarray(_PLACES_COUNT * np.cumsum(limited, axis=0), np.float32)
