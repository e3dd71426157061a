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
    places_of_grid,
    reading,
)
from worker.picture.outline.contours.features import landmarks as numbers
from worker.picture.outline.contours.features.face_part import FacePart, face_part
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.reading.landmark_numbers import MIRRORED, OVAL
from worker.spec.reading import Face, Reading
from worker.spec.spec import Area

#: Landmarks are right to a percent of a face: as they are, and displaced by so many mm.
OFF = [(0.0, 0.0), (0.5, 0.5), (-0.5, -0.5), (0.5, -0.5)]
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
#: Nostrils: how far their middles are beside the nose's and below the eyes, and half of their size.
NOSTRIL_MM, NOSTRIL_HALF_MM = (4.6, 19.4), (2.6, 1.0)
#: How high its wings are.
WING_HIGH_MM = 4.5

#: Half of an eye's width, how far both lids are from its level in the middle, and an iris' radius:
#: of eyes that are 63 mm apart they are 15 and 5.9 (common anatomy).
EYE_MM, LID_MM, RIM_MM, IRIS_MM = 7.0, 2.6, 1.9, 2.8
#: How far the chin is below the eyes, and half of a face's width.
CHIN_MM, CHEEK_MM = 50.0, 34.0

SKIN, HAIR, LIP = (205, 165, 140), (70, 50, 40), (175, 90, 95)
WHITE, EYE = (230, 225, 220), (60, 45, 40)
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


def lid(across: Floats, high: float) -> Floats:
    """How far a lid is below the level of the eyes, so far from an eye's middle."""
    return np.asarray(-high * (1 - np.minimum(np.abs(across) / EYE_MM, 1) ** 2))


def jaw(across: Floats) -> Floats:
    """How far a face's lower bound is below the eyes."""
    return np.asarray(CHIN_MM * np.sqrt(1 - np.minimum(np.abs(across) / CHEEK_MM, 1) ** 2))


def with_eyes(colours: Floats, glance: float, iris: tuple[int, int, int]) -> None:
    """White almonds, lashes along the upper lid, and an iris between lids that looks aside."""
    x, y = places_of_grid()
    for at_x, at_y in EYES:
        across, down = x - at_x, y - at_y
        wide = np.abs(across) < EYE_MM
        colours[wide & (down > lid(across, LID_MM)) & (down < lid(across, -RIM_MM))] = WHITE
        between = wide & (down > lid(across, LID_MM)) & (down < lid(across, -RIM_MM))
        colours[between & (np.hypot(across - glance, down) < IRIS_MM)] = iris
        colours[wide & (np.abs(down - lid(across, LID_MM)) < 0.4)] = EYE


def wing_line(up: Floats) -> Floats:
    """How far outwards a wing is, so far above its lower end."""
    return np.asarray(WING_MM + 0.9 * np.sin(np.pi * up / WING_HIGH_MM))


def painted(
    *,
    brows: bool = True,
    eyes: bool = False,
    glance: float = 0.0,
    iris: tuple[int, int, int] = EYE,
    nose: bool = False,
    nostrils: tuple[int, ...] = (),
    mouth: str = "closed",
    blur: float = 1.5,
) -> SampledPicture:
    """A face in colour; its mouth is closed, open, a moustache alone, or none.

    Nostrils are painted at the left, -1, or at the right, 1.
    """
    x, y = places_of_grid()
    across, down = x - 75.0, y - EYES[0][1]
    colours = np.broadcast_to(np.array(SKIN, np.float64), (*x.shape, 3)).copy()
    upper, lower = brow_edges(np.abs(across))
    long = (np.abs(across) > INNER_MM) & (np.abs(across) < OUTER_MM)
    if brows:
        colours[long & (down > upper) & (down < lower)] = HAIR
    if eyes:
        with_eyes(colours, glance, iris)
    if nose:
        wings = np.abs(across) < WING_MM
        colours[wings & (np.abs(down - nose_line(across)) < 0.8)] = NOSTRIL
        up = NOSE_MM - down
        beside = np.abs(np.abs(across) - wing_line(up)) < 0.6
        colours[(up > 0) & (up < WING_HIGH_MM) & beside] = NOSTRIL
    for side in nostrils:
        off = np.stack((across - side * NOSTRIL_MM[0], down - NOSTRIL_MM[1]), axis=-1)
        colours[np.hypot(*np.moveaxis(off / NOSTRIL_HALF_MM, -1, 0)) < 1] = DARK
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


def marks(off: tuple[float, float] = (0.0, 0.0), glance: float = 0.0) -> Floats:
    """Landmarks of a painted face on the grid, all of them displaced by so many mm."""
    found = np.full((478, 2), np.nan)

    def put(which: tuple[int, ...], across: Floats, down: Floats) -> None:
        found[list(which)] = np.stack((across, down), axis=1)

    for (at_x, _), upper, lower, iris, over, under in zip(
        EYES,
        numbers.UPPER_LIDS,
        numbers.LOWER_LIDS,
        numbers.IRISES,
        numbers.UPPER_BROWS,
        numbers.LOWER_BROWS,
        strict=True,
    ):
        middle, along = at_x - 75.0, np.linspace(-EYE_MM, EYE_MM, 9)
        put(upper, middle + along, lid(along, LID_MM))
        put(lower, middle + along, lid(along, -RIM_MM))
        ways = np.array([(0, 0), (1, 0), (0, -1), (-1, 0), (0, 1)]) * IRIS_MM
        put(iris, middle + glance + ways[:, 0], ways[:, 1])
        out = np.linspace(INNER_MM, OUTER_MM, 5)
        edges = brow_edges(out)
        for which, edge in zip((over, under), edges, strict=True):
            order = slice(None, None, -1) if middle < 0 else slice(None)
            put(which, (np.sign(middle) * out)[order], edge[order])
    along = np.linspace(-HALF_MM, HALF_MM, 11)
    for which, below in (
        (numbers.OUTER_UPPER, UPPER_MM),
        (numbers.OUTER_LOWER, LOWER_MM),
        (numbers.INNER_UPPER, PARTING_MM),
        (numbers.INNER_LOWER, PARTING_MM),
    ):
        put(which, along, mouth_edge(along, below))
    turns = np.linspace(0, 2 * np.pi, len(OVAL), endpoint=False)
    put(OVAL, CHEEK_MM * np.sin(turns), -CHIN_MM * np.cos(turns))
    for side, which in zip((-1, 1), numbers.NOSTRILS, strict=True):
        turns = np.linspace(0, 2 * np.pi, len(which), endpoint=False)
        ways = np.stack((np.cos(turns), np.sin(turns)), axis=1) * NOSTRIL_HALF_MM
        put(which, side * NOSTRIL_MM[0] + ways[:, 0], NOSTRIL_MM[1] + ways[:, 1])
    base = np.linspace(-WING_MM, WING_MM, 7)
    up = np.array((4.0, 2.8, 1.4))
    wing = wing_line(up)
    across = np.concatenate((-wing, base, wing[::-1]))
    put(numbers.NOSE, across, np.concatenate((NOSE_MM - up, nose_line(base), NOSE_MM - up[::-1])))
    turns = np.linspace(np.pi * 0.9, np.pi * 0.1, len(numbers.JAW))
    put(numbers.JAW, CHEEK_MM * np.cos(turns), CHIN_MM * np.sin(turns))
    turns = np.linspace(0.9, 0.1, len(numbers.FOREHEAD)) * np.pi
    put(numbers.FOREHEAD, CHEEK_MM * np.cos(turns), (CHIN_MM - SIDE) * np.sin(turns))
    turns = np.array((1.0, 0.95, 0.9, 0.9 - 0.8 / 12, 0.1 + 0.8 / 12, 0.1, 0.05, 0.0)) * np.pi
    put(numbers.TEMPLES, CHEEK_MM * np.cos(turns), (CHIN_MM - SIDE) * np.sin(turns))
    put((numbers.TOP, numbers.CHIN), np.zeros(2), np.array((CHIN_MM - SIDE, CHIN_MM)))
    put(numbers.BRIDGE, np.zeros(5), np.linspace(-3.0, NOSE_MM - 6.0, 5))
    put((numbers.TIP,), np.zeros(1), np.array((NOSE_MM - 4.0,)))
    put((numbers.LEFT, numbers.RIGHT), np.array((-CHEEK_MM, CHEEK_MM)), np.zeros(2))
    return np.asarray((found + np.add((75.0, EYES[0][1]), off)) / GRID.pitch_mm - 0.5)


def open_marks(off: tuple[float, float] = (0.0, 0.0)) -> Floats:
    """The same with lips apart."""
    found, along = marks(off), np.linspace(-HALF_MM, HALF_MM, 11)
    down = mouth_edge(along, OPEN_MM) - mouth_edge(along, PARTING_MM)
    found[list(numbers.INNER_LOWER), 1] += down / GRID.pitch_mm
    return found


def part(
    picture: SampledPicture, off: tuple[float, float] = (0.0, 0.0), glance: float = 0.0
) -> FacePart:
    """A painted face beside landmarks that are displaced."""
    return face_part(marks(off, glance), picture)


def mirrored(picture: SampledPicture, places: Floats) -> tuple[SampledPicture, Floats]:
    """The same as in a mirror, with landmarks of what is then at the viewer's left."""
    back = SampledPicture(
        grey=np.ascontiguousarray(picture.grey[:, ::-1]),
        chroma=tuple(np.ascontiguousarray(one[:, ::-1]) for one in picture.chroma),
        across_mm=0.25,
        down_mm=0.25,
    )
    there = places * (-1, 1) + (picture.shape[1] - 1, 0)
    return back, there[MIRRORED]


def in_mm(line: Floats) -> tuple[Floats, Floats]:
    """Places of a line of the grid from between the eyes: across and down."""
    across, down = ((line + 0.5) * GRID.pitch_mm - (75.0, EYES[0][1])).T
    return across, down


def noise(seed: int, spread: float, blur: float) -> Bytes:
    """A grey picture of soft noise on skin's tone."""
    _, y = places_of_grid()
    grain = gaussian_filter(np.random.default_rng(seed).normal(0, 1, y.shape), blur)
    return np.clip(170 + grain / grain.std() * spread, 0, 255).astype(np.uint8)
