"""What of a mouth is seen at each place below a nose.

Lips differ from skin in hue more than in tone: red counts more beside green in them. Between them
it is dark, or there are teeth, which are lighter and less red.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.contours.features.face_frames import Patch
from worker.picture.outline.points.gaussian import Floats, box_mean
from worker.picture.outline.points.sampled_picture import SampledPicture

#: Skin has the usual values of the part without so much of it at either side, and tone counts in
#: parts of this, at least of that.
_SIDES, _TONE, _LEAST_TONE = 0.2, 140.0, 60.0
#: Levels of an edge that is plain, and of a valley; red of such an edge, and how much one to teeth
#: counts beside it.
_EDGE, _VALLEY, _RED_EDGE, _TO_TEETH = 30.0, 22.0, 0.035, 0.7
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
#: Edges are seen over so many rows up and down, and count so much at most: where they are roughly,
#: and where exactly.
_ROUGH, _FINE = (2, 1.0), (1, 4.0)


@dataclass(frozen=True, kw_only=True)
class Edges:
    """How plain the edge of each curve is at places of a patch; (rows, columns) each.

    Attributes:
        upper, lower: Outer edges of both lips.
        over, under: The edges of what is between open lips.
    """

    upper: Floats
    lower: Floats
    over: Floats
    under: Floats


@dataclass(frozen=True, kw_only=True)
class MouthSights(Edges):
    """How well each curve would lie.

    Sums down from the top make what lies between two curves count; the upper one's are negative.

    Attributes:
        parting: Where closed lips part.
        edges: Edges alone, to a fraction of a row.
    """

    parting: Floats
    edges: Edges


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
    sides = np.minimum(_moved(light, -3), _moved(light, 3))
    parting = np.clip((sides - light) / (_VALLEY * scale), -0.5, 1.2)
    lips = (red - skin) / np.float32(_LIPS) - np.float32(_HALF)
    teeth = np.minimum(
        (skin + _SKIN - red) / _UNRED, (light - _TEETH * tone) / (_EDGE * scale)
    ) - np.float32(_SURELY)
    dark = (_DARK * tone - light) / (_EDGE * scale)
    mouth = _summed(np.maximum(lips, teeth))
    between = _summed(np.maximum.reduce((teeth, dark, -0.5 * lips - 0.2)))
    tones, reds = light / (_EDGE * scale), red / np.float32(_RED_EDGE)
    # What is less red than skin is as skin is: teeth have edges of their own.
    skins = np.maximum(reds, np.float32((skin - _SKIN) / _RED_EDGE))
    rough = _edges(tones, reds, skins, _ROUGH)
    fine = _edges(tones, reds, skins, _FINE)
    return MouthSights(
        upper=rough.upper - mouth,
        lower=rough.lower + mouth,
        parting=parting,
        over=rough.over - between,
        under=rough.under + between,
        edges=fine,
    )


def _edges(tones: Floats, reds: Floats, skins: Floats, seen: tuple[int, float]) -> Edges:
    """Edges of all curves.

    Args:
        tones: In parts of a plain edge.
        reds: The same of redness.
        skins: The same, where nothing is less red than skin.
        seen: From so many rows above to as many below; and what an edge counts at most.
    """
    rows, most = seen

    def step(values: Floats) -> Floats:
        apart = (_moved(values, rows) - _moved(values, -rows)) * np.float32(_ROUGH[0] / rows)
        return np.asarray(np.clip(apart, -most, most), np.float32)

    falls, rises, to_red = -step(tones), step(skins), step(reds * np.float32(_TO_TEETH))
    inner = _INSIDE * np.abs(falls)
    return Edges(
        upper=np.asarray(_BY_RED * rises + _BY_TONE * falls, np.float32),
        lower=np.asarray(_BELOW_TONE * np.abs(falls) - _BY_RED * rises, np.float32),
        over=np.asarray(inner - _INSIDE * to_red, np.float32),
        under=np.asarray(inner + _INSIDE * to_red, np.float32),
    )


def _moved(values: Floats, rows: int) -> Floats:
    """The value so many rows below each place; the last ones go on."""
    return values[np.clip(np.arange(len(values)) + rows, 0, len(values) - 1)]


def _summed(values: Floats) -> Floats:
    """Sums from the top of places that count either way."""
    limited = np.clip(values, -_PLACE, _PLACE)
    return np.asarray(_PLACES_COUNT * np.cumsum(limited, axis=0), np.float32)
