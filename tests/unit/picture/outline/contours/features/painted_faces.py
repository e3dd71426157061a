"""Faces painted with features whose places are known, in mm of a picture of 150 x 112.5 mm."""

from __future__ import annotations

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.test_contour_lines import (
    GRID,
    NOTHING,
    Bytes,
    Floats,
    placed,
    places_of_grid,
    reading,
)
from worker.picture.outline.contours.features.face_frames import FaceFrame, face_frames
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.spec.reading import Face, Reading
from worker.spec.spec import Area

#: Middles of both eyes, and the side of the face's box.
EYES, SIDE = ((60.0, 35.0), (90.0, 35.0)), 76.0
#: A brow begins so far from the middle and ends so far from it; where its middle line is highest,
#: above the eyes; how far it falls at its ends; and how thick it is at the inner end.
INNER_MM, OUTER_MM, HIGH_MM, FALLS_MM, THICK_MM = 6.0, 27.0, 8.5, 2.0, 3.2
#: A mouth: half its width, how far its corners are below the eyes, and how far each curve is below
#: the corners in the middle: the upper lip's edge, what is between lips, the lower lip's edge.
HALF_MM, BELOW_MM, UPPER_MM, PARTING_MM, LOWER_MM = 15.0, 30.0, -2.4, 0.6, 7.0
#: An opening is from the parting line to here.
OPEN_MM = 4.0
#: Half of a nose's width, how far its wings' ends are below the eyes, and how far its middle is
#: below those.
WING_MM, NOSE_MM, TIP_MM = 8.0, 20.0, 1.5

SKIN, HAIR, LIP = (205, 165, 140), (70, 50, 40), (175, 90, 95)
DARK, TEETH, NOSTRIL = (60, 25, 25), (235, 235, 235), (110, 70, 55)


def brow_edges(out: Floats) -> tuple[Floats, Floats]:
    """How far a brow's edges are below the eyes, so far outwards from the middle."""
    share = np.clip((out - INNER_MM) / (OUTER_MM - INNER_MM), 0, 1)
    line = -HIGH_MM + FALLS_MM * (2 * share - 1) ** 2
    half = THICK_MM / 2 * (1 - 0.6 * share)
    return line - half, line + half


def mouth_edge(across: Floats, below: float) -> Floats:
    """How far a mouth's curve is below the eyes, so far from the middle."""
    return np.asarray(BELOW_MM + below * (1 - np.minimum(np.abs(across) / HALF_MM, 1) ** 2))


def nose_line(across: Floats) -> Floats:
    """How far the line below a nose is below the eyes."""
    return np.asarray(NOSE_MM + TIP_MM * np.cos(np.pi / 2 * across / WING_MM))


def painted(
    *, brows: bool = True, nose: bool = False, mouth: str = "closed", blur: float = 1.5
) -> SampledPicture:
    """A face in colour; its mouth is closed, open, a moustache alone, or none."""
    x, y = places_of_grid()
    across, down = x - 75.0, y - EYES[0][1]
    colours = np.broadcast_to(np.array(SKIN, np.float64), (*x.shape, 3)).copy()
    upper, lower = brow_edges(np.abs(across))
    long = (np.abs(across) > INNER_MM) & (np.abs(across) < OUTER_MM)
    if brows:
        colours[long & (down > upper) & (down < lower)] = HAIR
    if nose:
        wings = np.abs(across) < WING_MM
        colours[wings & (np.abs(down - nose_line(across)) < 0.8)] = NOSTRIL
    if mouth == "moustache":
        colours[(np.abs(across) < HALF_MM) & (down > 24) & (down < 29)] = HAIR
    elif mouth != "none":
        edges = [mouth_edge(across, at) for at in (UPPER_MM, PARTING_MM, OPEN_MM, LOWER_MM)]
        wide = np.abs(across) < HALF_MM
        colours[wide & (down > edges[0]) & (down < edges[3])] = LIP
        if mouth == "open":
            colours[wide & (down > edges[1]) & (down < edges[2])] = TEETH
        else:
            colours[wide & (np.abs(down - edges[1]) < 0.6)] = DARK
    soft = np.stack([gaussian_filter(one, blur) for one in np.moveaxis(colours, 2, 0)], axis=2)
    return in_colour(soft)


def in_colour(colours: Floats) -> SampledPicture:
    """A picture of RGB, with its chroma at half the pixels."""
    image = Image.fromarray(np.clip(np.rint(colours), 0, 255).astype(np.uint8)).convert("YCbCr")
    grey, *chroma = image.split()
    return SampledPicture(
        grey=np.asarray(grey),
        chroma=tuple(np.asarray(one.reduce(2)) for one in chroma),
        across_mm=0.25,
        down_mm=0.25,
    )


def face() -> Reading:
    """Nothing read but a face with both eyes."""
    width, height = 26.0, 24.0
    eyes = tuple(
        Area(
            left=(x - width / 2) / 150,
            top=(y - 0.6 * height) / 112.5,
            width=width / 150,
            height=height / 112.5,
        )
        for x, y in EYES
    )
    box = Area(left=37 / 150, top=18 / 112.5, width=SIDE / 150, height=SIDE / 112.5)
    return reading(NOTHING, faces=(Face(box=box, head=box, eyes=eyes),))


def frames() -> tuple[PlacedReading, tuple[FaceFrame, ...]]:
    laid = placed(face())
    return laid, face_frames(laid, ())


def turned_round(
    laid: PlacedReading, picture: SampledPicture
) -> tuple[PlacedReading, SampledPicture]:
    """The same, mirrored."""
    turn = np.array(((-1.0, 0.0, picture.shape[1] - 1.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
    back = PlacedReading(
        reading=laid.reading, to_map=laid.to_map @ turn, to_share=laid.to_share @ turn
    )
    return back, SampledPicture(
        grey=np.ascontiguousarray(picture.grey[:, ::-1]),
        chroma=tuple(np.ascontiguousarray(one[:, ::-1]) for one in picture.chroma),
        across_mm=0.25,
        down_mm=0.25,
    )


def in_mm(line: Floats) -> tuple[Floats, Floats]:
    """Places of a line of the grid from between the eyes: across and down."""
    across, down = ((line + 0.5) * GRID.pitch_mm - (75.0, EYES[0][1])).T
    return across, down


def noise(seed: int, spread: float, blur: float) -> Bytes:
    """A grey picture of soft noise on skin's tone."""
    _, y = places_of_grid()
    grain = gaussian_filter(np.random.default_rng(seed).normal(0, 1, y.shape), blur)
    return np.clip(170 + grain / grain.std() * spread, 0, 255).astype(np.uint8)
