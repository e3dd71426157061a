"""Layers and networks against what PyTorch makes of the same weights.

`deploy/training/record_outputs.py` recorded that. The numbers must also be the same however many
threads there are, BLAS's own or ours: a reading is stored, and its bytes are compared.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter

from worker.reading import detections
from worker.reading.contours import contour_logits, contour_maps, contour_weights, whole_maps
from worker.reading.detections import doubled, face_outputs, face_weights
from worker.reading.landmark_numbers import RIGHT_IRIS
from worker.reading.mesh import mesh_outputs, mesh_weights
from worker.reading.network import Network, Weights, small_products
from worker.reading.planes import BLOCK, Planes, largest, second
from worker.reading.subjects import subject_weights

Floats = npt.NDArray[np.float32]
RECORDED = Path(__file__).parent / "recorded"
#: What our user asks for.
CLOSE = 1e-3


def recorded(name: str) -> dict[str, npt.NDArray[np.generic]]:
    with np.load(RECORDED / f"{name}.npz") as file:
        return dict(file)


@pytest.fixture(scope="module")
def layers() -> Weights:
    return recorded("layers")  # type: ignore[return-value]


@pytest.fixture
def network(layers: Weights) -> Iterator[Network]:
    with ThreadPoolExecutor(3) as pool:
        yield Network(layers, pool, 3)


def differs(ours: Floats, theirs: npt.NDArray[np.generic]) -> float:
    assert ours.shape == theirs.shape
    return float(np.abs(ours - theirs).max())


@pytest.mark.parametrize(
    "layer", ["point", "point-summed", "point-banded", "window", "window-summed"]
)
def test_convolutions_are_those_of_pytorch(network: Network, layers: Weights, layer: str) -> None:
    ours = network.convolved(layer, Planes.of(layers[f"{layer}.x"])).inner
    assert differs(ours, layers[f"{layer}.y"]) < 1e-5


def test_convolutions_of_each_plane_are_those_of_pytorch(network: Network, layers: Weights) -> None:
    ours = network.convolved_each("each", Planes.of(layers["each.x"]))
    assert differs(ours.inner, layers["each.y"]) < 1e-5
    assert differs(second(ours).inner, layers["each.halved"]) < 1e-5


def test_every_second_place_alone_has_the_numbers_that_it_has_among_all(network: Network) -> None:
    x = Planes.of(recorded("layers")["window.x"])  # type: ignore[arg-type]
    alone = network.convolved("window", x, halve=True)
    assert np.array_equal(alone.inner, second(network.convolved("window", x)).inner)


def test_views_have_the_numbers_together_that_each_has_alone() -> None:
    stored = recorded("landmarks")["pixels"].astype(np.float32) / np.float32(255)
    views = np.stack((stored, stored[:, ::-1], np.roll(stored, 9, axis=0)))
    odds, points = mesh_outputs(mesh_weights(), views)
    for view, ours, places in zip(views, odds, points, strict=True):
        (alone,), (there,) = mesh_outputs(mesh_weights(), view[None])
        assert alone == ours
        assert np.array_equal(there, places, equal_nan=True)


def test_other_sizes_are_those_of_pytorch(network: Network, layers: Weights) -> None:
    x = Planes.of(layers["each.x"])
    assert differs(network.halved(x).inner, layers["sizes.mean"]) < 1e-6
    assert differs(largest(x).inner, layers["sizes.most"]) == 0
    assert differs(doubled(x.inner), layers["sizes.doubled"]) < 1e-6


def test_every_product_is_too_small_for_blas_to_divide() -> None:
    """The limit is in OpenBLAS's `interface/gemm.c`."""
    apart = (".first.", ".second.", ".each.", ".out.")
    for weights in (contour_weights(), subject_weights(), face_weights(), mesh_weights()):
        for name, kernel in weights.items():
            if name.endswith(".weight") and not any(part in name for part in apart):
                _, _, rows, columns = small_products(kernel).shape
                assert rows * columns * BLOCK <= 2**18, name


def test_the_contour_network_is_that_of_pytorch() -> None:
    stored = recorded("contours")
    pixels = stored["pixels"].astype(np.float32) / np.float32(255)
    ours = contour_logits(contour_weights(), pixels).maps
    assert differs(ours, stored["logits"]) < CLOSE
    assert np.ptp(stored["logits"].astype(np.float32)) > 3


def test_the_network_of_the_subject_is_that_of_pytorch() -> None:
    stored = recorded("contours")
    pixels = stored["pixels"].astype(np.float32) / np.float32(255)
    told = contour_logits(contour_weights(), pixels, subject=True)
    assert told.subject is not None
    assert differs(told.subject, stored["subject"]) < CLOSE
    assert np.array_equal(told.maps, contour_logits(contour_weights(), pixels).maps)


@pytest.mark.parametrize("size", [(97, 130), (1, 1), (32, 64), (33, 500)])
def test_the_subject_is_told_for_squares_of_four_pixels(size: tuple[int, int]) -> None:
    maps, subject = whole_maps(Image.new("RGB", size, "white"))
    assert [one.shape for one in maps] == [(size[1], size[0])] * 5
    assert subject.shape == (-(-size[1] // 4), -(-size[0] // 4))


def test_a_thing_before_a_blurred_ground_is_the_subject() -> None:
    y, x = np.mgrid[:288, :384]
    off = np.hypot(x - 200, y - 150)
    noise = np.random.default_rng(2).normal(0, 40, (288, 384, 3))
    ground = gaussian_filter(noise, (9, 9, 0)) * 12 + (70, 120, 60)
    light = 1.1 - 0.5 * np.hypot(x - 170, y - 110) / 100
    ball = np.array((200, 80, 40)) * light[..., None]
    share = 1 / (1 + np.exp((off - 80) / 0.7))[..., None]
    pixels = np.clip(share * ball + (1 - share) * ground, 0, 255).astype(np.uint8)
    _, subject = whole_maps(Image.fromarray(pixels, "RGB"))
    apart = off[2::4, 2::4] - 80
    assert np.median(subject[apart < -10]) > 200
    assert np.median(subject[apart > 20]) < 60


def test_the_face_network_is_the_published_one() -> None:
    stored = recorded("faces")
    view = stored["pixels"].astype(np.float32) / np.float32(127.5) - 1
    odds, places = face_outputs(face_weights(), view)
    assert differs(odds.reshape(32, 32), stored["odds"]) < CLOSE
    assert differs(places.reshape(16, 32, 32), stored["places"]) < CLOSE
    assert (stored["odds"].astype(np.float32) > 0).any(), "it holds a face"
    # Eight bits for sixteen change odds by less than what is likely from what is not.
    assert differs(odds.reshape(32, 32), stored["published_odds"]) < 0.5


def test_the_network_of_landmarks_is_the_published_one() -> None:
    """Its right eye alone: the left one is the right one of the mirrored view."""
    stored = recorded("landmarks")
    view = stored["pixels"].astype(np.float32) / np.float32(255)
    (odds,), (points,) = mesh_outputs(mesh_weights(), view[None])
    there = ~np.isnan(points[:, 0])
    assert there.sum() > 300
    assert np.array_equal(there, ~np.isnan(stored["points"][:, 0].astype(np.float32)))
    assert differs(points[there], stored["points"][there]) < CLOSE
    assert abs(odds - float(stored["odds"][0])) < CLOSE
    # Eight bits for sixteen move landmarks by less than what is seen of a face, in pixels of 192.
    moved = np.hypot(*(points - stored["published_points"].astype(np.float32))[there].T)
    assert moved.mean() < 0.2
    assert moved.max() < 1
    coarse = mesh_outputs(mesh_weights(), view[None], closer=False)[1][0]
    assert np.isnan(coarse[RIGHT_IRIS[0]]).all()


def test_weights_take_no_more_than_two_megabytes_of_the_wheel() -> None:
    """They hardly get smaller there: they are packed, or as good as noise."""
    folder = Path(detections.__file__).parent / "weights"
    assert sum(path.stat().st_size for path in folder.glob("*.npz*")) < 2_000_000


@pytest.mark.parametrize("size", [(97, 130), (1, 1), (32, 64), (33, 500)])
def test_maps_are_as_large_as_the_picture(size: tuple[int, int]) -> None:
    maps = contour_maps(Image.new("RGB", size, "white"))
    assert [one.shape for one in maps] == [(size[1], size[0])] * 5


def test_a_reading_from_further_off_adds_more_than_it_takes() -> None:
    picture = Image.fromarray(recorded("contours")["pixels"])
    half = picture.resize((picture.width // 2, picture.height // 2), Image.Resampling.BOX)
    near, far = (
        contour_logits(contour_weights(), np.asarray(one, np.float32) / np.float32(255)).maps
        for one in (picture, half)
    )
    # Pillow's bicubic kernel is Keys's with a = -0.5; each plane comes in its order.
    for made, one, other in zip(contour_maps(picture), near, far, strict=True):
        wide = Image.fromarray(other).resize(picture.size, Image.Resampling.BICUBIC)
        apart = np.asarray(wide) - one
        likely = 1 / (1 + np.exp(-(one + np.where(apart > 0, 0.5, 0.25) * apart)))
        assert np.abs(made - 255 * likely).max() <= 0.51


def test_of_a_whole_picture_silhouettes_are_raised_and_nothing_is_lowered() -> None:
    y, x = np.mgrid[:256, :384]
    inside = (np.hypot(x - 190, y - 128) < 70)[..., None]
    grain = np.random.default_rng(3).normal(0, 14, (256, 384, 1))
    pixels = np.where(inside, np.array((140, 90, 60)) + grain, (70, 120, 60))
    picture = Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8), "RGB")
    part, (whole, subject) = contour_maps(picture), whole_maps(picture, closed=True)
    assert subject.shape == (64, 96)
    for number in (0, 1, 4):
        assert (whole[number] >= part[number]).all()
    for number in (2, 3):
        assert np.array_equal(whole[number], part[number])
    more = whole[4].astype(int) - part[4]
    assert more.max() > 0
    assert not more[np.abs(np.hypot(x - 190, y - 128) - 70) > 12].any()


DIGESTS = """
import hashlib, sys
import numpy as np
from worker.reading.contours import contour_logits, contour_weights
from worker.reading.detections import face_outputs, face_weights
from worker.reading.mesh import mesh_outputs, mesh_weights
stored = np.load(sys.argv[1])["pixels"].astype(np.float32).repeat(2, 0).repeat(2, 1)
for threads in (1, 2, 5):
    numbers = [*contour_logits(contour_weights(), stored / np.float32(255), threads, subject=True)]
    numbers += face_outputs(face_weights(), stored / np.float32(127.5) - 1, threads)
    view = np.ascontiguousarray(stored[:192, :192]) / np.float32(255)
    numbers.append(mesh_outputs(mesh_weights(), view[None], threads=threads)[1])
    print(hashlib.sha256(b"".join(one.tobytes() for one in numbers)).hexdigest())
"""


def test_the_numbers_are_the_same_on_any_number_of_threads() -> None:
    """Threads of our own and of BLAS: OpenBLAS and MKL read their number when they load."""
    digests = set()
    for blas in ("1", "5"):
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": blas, "MKL_NUM_THREADS": blas}
        environment["PYTHONPATH"] = os.pathsep.join(sys.path)
        command = [sys.executable, "-c", DIGESTS, RECORDED / "faces.npz"]
        digests |= set(subprocess.check_output(command, env=environment, text=True).split())
    assert len(digests) == 1
    assert len(digests.pop()) == 2 * hashlib.sha256().digest_size
