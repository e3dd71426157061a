"""All points of a picture, with what is known of each, before lines are selected."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.evidence import Evidence
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.feature_lines.face_lines import FeatureLines
from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.linking import Ids
from worker.picture.outline.points.point_measures import PointMeasures
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.picture.outline.polylines import Polylines
from worker.picture.outline.prominence.prominence import Prominence
from worker.picture.outline.ruling.segments import PictureEdges

Ints = npt.NDArray[np.int64]
_Values = TypeVar("_Values", PointMeasures, Evidence, Prominence)


@dataclass(frozen=True, kw_only=True)
class Artefacts:
    """What is in the picture and not in the scene: noise, and JPEG's block steps.

    Attributes:
        noise, chroma_noise: Standard deviation of points' contrast, in levels.
        step, chroma_step: Height of the steps between blocks of compression.
    """

    noise: float
    step: float
    chroma_noise: float = 0.0
    chroma_step: float = 0.0


@dataclass(frozen=True, kw_only=True)
class DetectedPoints:
    """All points of a picture, before lines are selected.

    Attributes:
        grid: The grid that they are on.
        points: The points.
        link: (points, 2): the neighbours of each point on its line, or -1.
        chains: The lines that these make.
        measures: Contrast of each point, compared with its surroundings.
        placed: The reading under the picture.
        evidence: What it says of each point.
        prominence: Where each lies in what the picture is of.
        artefacts: What is in the picture and not in the scene.
        edges: All edges of the picture, drawn or not.
        shadows: Edges of shadows, if they are wanted.
        beside: 1 in a face beside features that are drawn as such, 0 elsewhere.
        features: Lines of eyes, brows, noses and mouths that are seen.
        rounds: Lines of round forms, as eyes of animals.
        faces: Those that features were found in; their jaws are drawn where no line has them.
    """

    grid: PixelGrid
    points: Points
    link: Ids
    chains: Chains
    measures: PointMeasures
    placed: PlacedReading
    evidence: Evidence
    prominence: Prominence
    artefacts: Artefacts
    edges: PictureEdges | None = None
    beside: Floats | None = None
    shadows: Polylines | None = None
    features: FeatureLines | None = None
    rounds: FeatureLines | None = None
    faces: tuple[FoundFace, ...] = ()

    def taken(self, which: Ints) -> DetectedPoints:
        """Some of the points, as often as they are named, without their neighbours."""
        alone = np.full((len(which), 2), -1, np.int32)
        return replace(
            self,
            points=self.points.taken(which),
            link=alone,
            chains=chains_of(alone),
            measures=_taken(self.measures, which),
            evidence=_taken(self.evidence, which),
            prominence=_taken(self.prominence, which),
            beside=None if self.beside is None else self.beside[which],
        )


def _taken(values: _Values, which: Ints) -> _Values:
    """Values of some points."""
    return replace(
        values, **{field.name: getattr(values, field.name)[which] for field in fields(values)}
    )
