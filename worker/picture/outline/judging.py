"""What lines are worth: by the reading, and by contrast where it is unsure.

Where the reading is sure, a line is worth the likelihood that a person would draw it, times powers
of its length and of the contrast of the form that it bounds. Beside the reading's ridges a line
needs contrast as well: there it may be another line of the form, or texture along it. Where the
reading is unsure, contrast alone decides: that of the line less what its surroundings have anyway,
which keeps a long faint fold and leaves out most of a lawn. Contrast counts beside that which
contours have around it, and what a line is worth by how far it is of the picture's main thing.

A line must also be unlikely to be chance: its mean contrast is weighed against the noise measured
at the same scale, which averages out along a line; or the reading makes it likelier than it makes
anything in noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.evidence import Evidence
from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.gaussian import Floats

#: Contrast in levels that a line of a centimetre needs, for the least detail and the most.
_MOST_NEEDED, _LEAST_NEEDED = 60.0, 4.0
_USUAL_MM = 10.0
#: How much length counts beside contrast, and from where on it counts no more.
_LENGTH_POWER, _LONGEST = 0.45, 10.0
#: Points of a line may be fainter than the whole, in parts of what it needs; but they stand
#: out from the noise by so many deviations, and from nothing by so many levels.
_FAINT_SHARE, _FAINT_NOISE, _FAINTEST = 0.35, 2.4, 2.0
#: Along a line of noise contrast is about so many deviations, and independent every so many
#: widths of the smoothing; so many deviations above that a line is sure.
_USUAL_NOISE, _APART_SIGMA, SURE = 2.8, 3.0, 4.0
#: The detail at which contours are drawn, and the one from which on texture is too, until at 1
#: contrast alone decides.
CONTOURS, TEXTURE = 0.5, 0.75
#: Likelihood that a line of a centimetre needs at detail 0, at that of contours, and at the
#: least; and how much length counts beside it.
_MOST_LIKELY, _LIKELY_AT_CONTOURS, _LEAST_LIKELY, _READ_POWER = 1.2, 0.45, 0.03, 0.3
#: A line that only the reading sees is worth so much of one of so many levels of contrast where
#: contrast is as usual, and more contrast counts up to so many times that.
_UNSEEN, _PLAIN_LEVELS, _PLAINEST = 0.4, 36.0, 1.5
#: How much the likelihood counts, and contrast of the form that a line bounds, within these parts
#: of those levels; beyond so many times a line's own contrast the form is another's.
_CONTOUR_POWER, _FORM_POWER, _FORMS, _OWN_FORM = 1.5, 0.45, (0.8, 2.5), 3.0
#: What surely bounds a form has so much of the form's contrast itself, however frayed its edge.
_BOUNDED = 0.6
#: Contrast counts no more than this where the reading is unsure, in parts of what is needed;
#: and how much of it a line needs that the reading sees beside its ridges.
_CLEAREST, _BESIDE = 1.5, 0.3
#: A line that is so likely needs no contrast, unless steps of compression are so many levels
#: high: then a network takes them for contours.
READ, _MISTAKEN_LEVELS = 0.5, 9.5
#: Noise it takes for contours less often: in flat pictures of grain nothing is likelier than this
#: but where there is nearly as much of it.
_LIKELIER_THAN_NOISE = 0.5
#: In a face of this width lines are judged as anywhere; in smaller ones they count as if it were
#: enlarged to it, up to so much.
_LARGE_FACE_MM, _FINEST = 200.0, 0.3
#: How much longer a line behind a figure must be: there are few and long ones.
_FURTHER = np.float32(2.0)

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Lines:
    """Lines with what they are judged by.

    Attributes:
        chains: The lines.
        length_mm: Of each.
        face_mm: Width of the face that it is in, or 0.
        score: Contrast and length, in levels.
        worth: What decides, by the reading and by contrast; above 1 it is drawn.
        sureness: How unlikely it is to be noise, in standard deviations.
        likely: How likely the reading makes it, if it is on a ridge.
        read: The same as far as that is to be trusted.
        beside: How sure the reading is that there is no line of its own, 0 to 1.
        plain: How much of it is of plain forms, 0 to 1.
        known: 1 where the reading is to be trusted at all, 0 where it knows nothing.
        bounded: Contrast that it has as it surely bounds a form, in levels.
        scale: How many times as long as usual it must be to say as much.
    """

    chains: Chains
    length_mm: Floats
    face_mm: Floats
    score: Floats
    worth: Floats
    sureness: Floats
    likely: Floats
    read: Floats
    beside: Floats
    plain: Floats
    known: Floats
    bounded: Floats
    scale: Floats

    def taken(self, which: Flags) -> Lines:
        """Some of them."""
        values = {
            name: getattr(self, name)[which]
            for name in self.__dataclass_fields__
            if name != "chains"
        }
        return Lines(chains=self.chains.taken(which), **values)


def faintest(detail: float, noise: float) -> float:
    """Contrast of the faintest point that can be part of a line.

    Where few lines are wanted, faint edges still place those of the reading.
    """
    return max(_FAINT_NOISE * noise, _FAINT_SHARE * needed(max(detail, CONTOURS)), _FAINTEST)


def judged(detected: DetectedPoints, chains: Chains, detail: float) -> Lines:
    """Judge some lines.

    Args:
        detected: All points.
        chains: The lines.
        detail: As the spec's.
    """
    points, grid = detected.points, detected.grid
    length_mm = chains.lengths(points.x, points.y) * np.float32(grid.pitch_mm)
    face_mm = chains.means(detected.evidence.face_px) * np.float32(grid.pitch_mm)
    longer = np.minimum(length_mm / (_USUAL_MM * finer(face_mm)), _LONGEST)
    strength = chains.means(detected.measures.strength)
    score = np.asarray(strength * longer**_LENGTH_POWER, np.float32)
    above = chains.means(detected.measures.clearness) - _USUAL_NOISE
    sureness = above * np.sqrt(length_mm / (_APART_SIGMA * grid.sigma_mm))
    usual = chains.means(detected.prominence.usual)
    form = chains.means(detected.measures.form)
    bounded = _bounded(detected.evidence, chains, form)
    contrast = np.maximum(chains.means(points.total), bounded)
    clearer = longer**_READ_POWER * _plain(contrast, usual)
    form = np.minimum(form, _OWN_FORM * contrast)
    clearer *= _formed(np.asarray(form, np.float32), usual)
    # With all texture nothing is left out that a faint picture would lack.
    scored = np.asarray(score / usual ** np.float32(1 - _beyond(detail)), np.float32)
    worth, read, beside = _by_reading(
        detected.evidence, chains, np.asarray(clearer, np.float32), scored, detail
    )
    # Where nothing is read, no main thing is known.
    worth *= 1 + chains.means(detected.evidence.sure * (detected.prominence.main - 1))
    return Lines(
        chains=chains,
        length_mm=length_mm,
        face_mm=face_mm,
        score=score,
        worth=worth,
        sureness=np.asarray(sureness, np.float32),
        likely=chains.means(detected.evidence.contour * detected.evidence.ridge),
        read=read,
        beside=beside,
        plain=chains.means(detected.evidence.plain),
        known=chains.means((detected.evidence.sure > 0).astype(np.float32)),
        bounded=bounded,
        scale=finer(face_mm) * (1 + _FURTHER * (1 - chains.means(detected.prominence.figure))),
    )


def plainly_read(detected: DetectedPoints, chains: Chains) -> Floats:
    """What lines are worth for being likely and plain alone, however long, by their own contrast.

    Args:
        detected: All points.
        chains: The lines.
    """
    evidence = detected.evidence
    likely = chains.means(evidence.contour * evidence.ridge) ** np.float32(_CONTOUR_POWER)
    usual = chains.means(detected.prominence.usual)
    return np.asarray(likely * _plain(chains.means(detected.points.total), usual), np.float32)


def _bounded(evidence: Evidence, chains: Chains, form: Floats) -> Floats:
    """Contrast of lines of the reading that bound a form: hair and soft edges have little own."""
    bounds = chains.means(evidence.outer * evidence.ridge)
    return np.asarray(_BOUNDED * bounds * form, np.float32)


def _plain(contrast: Floats, usual: Floats) -> Floats:
    """How much lines count by their contrast, beside what is usual around them."""
    beside_usual = np.minimum(contrast / (np.float32(_PLAIN_LEVELS) * usual), np.float32(_PLAINEST))
    return np.asarray(_UNSEEN + (1 - _UNSEEN) * beside_usual, np.float32)


def _formed(contrast: Floats, usual: Floats) -> Floats:
    """How much lines count by the contrast of the forms that they bound, beside what is usual."""
    beside_usual = contrast / (np.float32(_PLAIN_LEVELS) * usual)
    return np.asarray(np.clip(beside_usual, *_FORMS) ** np.float32(_FORM_POWER), np.float32)


def _by_reading(
    evidence: Evidence, chains: Chains, clearer: Floats, score: Floats, detail: float
) -> tuple[Floats, Floats, Floats]:
    """What lines are worth, how likely the reading makes them, and how far they are beside it."""
    known, ridge = chains.means(evidence.sure), chains.means(evidence.ridge)
    sure = known * _trust(detail)
    contour, outer = chains.means(evidence.contour), chains.means(evidence.outer)
    clear = np.minimum(score / needed(detail), _CLEAREST)
    # Turned down, what bounds a form stays longest.
    inner = min(detail / CONTOURS, 1.0)
    likely = contour**_CONTOUR_POWER * (outer + (1 - outer) * inner) * clearer
    more = _beyond(detail)
    beside = np.minimum((_BESIDE + (1 - _BESIDE) * more) * clear, 1)
    likely = likely / needed_likely(detail) * (ridge + (1 - ridge) * beside)
    worth = sure * likely + (1 - sure) * clear
    # With texture, what the reading has is drawn as well.
    worth = np.maximum(worth, known * ridge * likely)
    read, alone = known * contour * ridge, sure * (1 - ridge) * (1 - contour) * (1 - more)
    return (
        np.asarray(worth, np.float32),
        np.asarray(read, np.float32),
        np.asarray(alone, np.float32),
    )


def finer(face_mm: Floats) -> Floats:
    """How much shorter lines count in a face: a small one has them all, only smaller."""
    scale = np.clip(face_mm / np.float32(_LARGE_FACE_MM), np.float32(_FINEST), 1)
    return np.where(face_mm > 0, scale, np.float32(1))


def believed(lines: Lines, levels: Floats) -> Flags:
    """Which lines the reading alone makes sure, over noise or steps of so many levels each."""
    doubt = np.minimum(levels / np.float32(_MISTAKEN_LEVELS), 1)
    return np.asarray(lines.read > READ + (1 - READ) * doubt)


def read_surely(lines: Lines, noise: float) -> Floats:
    """How sure the reading makes of a line, on the scale of what noise makes of it."""
    doubt = min(noise / _MISTAKEN_LEVELS, 1.0) ** 6
    needed = _LIKELIER_THAN_NOISE + (1 - _LIKELIER_THAN_NOISE) * doubt
    return np.where(lines.likely > needed, np.float32(2 * SURE), np.float32(0))


def needed(detail: float) -> float:
    """Strength that a line of a centimetre needs to be drawn, in levels."""
    return float(_MOST_NEEDED * (_LEAST_NEEDED / _MOST_NEEDED) ** detail)


def _trust(detail: float) -> float:
    """How far the reading is heard where it is sure: not at all where everything is wanted."""
    return min((1 - detail) / (1 - TEXTURE), 1.0)


def needed_likely(detail: float) -> float:
    """Likelihood that a line of a centimetre needs to be drawn."""
    less, more = min(detail / CONTOURS, 1.0), _beyond(detail)
    below = _MOST_LIKELY * (_LIKELY_AT_CONTOURS / _MOST_LIKELY) ** less
    return float(below * (_LEAST_LIKELY / _LIKELY_AT_CONTOURS) ** more)


def _beyond(detail: float) -> float:
    """How far detail is on the way from contours to texture."""
    return min(max((detail - CONTOURS) / (TEXTURE - CONTOURS), 0.0), 1.0)
