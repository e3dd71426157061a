"""Colour: grey is right for a person drawing, and whatever comes becomes sRGB."""

from __future__ import annotations

import numpy as np
import pytest
import skimage.color
import skimage.data
from PIL import Image, ImageCms

from tests.unit.reference.samples import Bytes, exact_grey, ink_profile, matrix_profile
from worker.reference.colour.srgb import converter, encode_srgb, luminance

#: Display P3 primaries, adapted to D50, as its published profile has them (from memory).
P3 = (
    np.array([0.51512, 0.24120, -0.00105]),
    np.array([0.29198, 0.69225, 0.04189]),
    np.array([0.15710, 0.06657, 0.78407]),
)
#: sRGB primaries, adapted to D50 (from memory, as in common profiles).
SRGB = (
    np.array([0.43607, 0.22249, 0.01392]),
    np.array([0.38515, 0.71687, 0.09708]),
    np.array([0.14307, 0.06061, 0.71410]),
)
#: Linear Display P3 to XYZ and XYZ to linear sRGB, both D65: CSS Color Module Level 4,
#: sample code for colour conversions.
P3_TO_XYZ = np.array(
    [
        [0.4865709486, 0.2656676932, 0.1982172852],
        [0.2289745641, 0.6917385218, 0.0792869141],
        [0.0, 0.0451133819, 1.0439443689],
    ]
)
XYZ_TO_SRGB = np.array(
    [
        [3.2409699419, -1.5373831776, -0.4986107603],
        [-0.9692436363, 1.8759675015, 0.0415550574],
        [0.0556300797, -0.2039769589, 1.0569715142],
    ]
)


def colours(count: int = 50_001) -> Bytes:
    """So many colours, dark ones as many as light ones, in one row."""
    return np.random.default_rng(7).integers(0, 256, (1, count, 3), dtype=np.uint8)


@pytest.mark.parametrize("count", [50_000, 50_001])
def test_grey_is_luminance_within_one_level_of_scikit_image(count: int) -> None:
    values = colours(count)
    grey = np.asarray(luminance(Image.fromarray(values)))
    assert np.abs(grey - exact_grey(values)).max() <= 1.0


def test_grey_of_a_photograph_is_its_luminance() -> None:
    photo = skimage.data.astronaut()
    grey = np.asarray(luminance(Image.fromarray(photo)))
    assert np.abs(grey - exact_grey(photo)).max() <= 1.0


def test_neutral_values_stay_as_they_are() -> None:
    ramp = np.repeat(np.arange(256, dtype=np.uint8)[np.newaxis, :, np.newaxis], 3, axis=2)
    assert np.array_equal(np.asarray(luminance(Image.fromarray(ramp)))[0], np.arange(256))


def test_red_and_green_of_equal_luma_are_told_apart_as_the_eye_does() -> None:
    # Worked by hand: Y of pure sRGB red is 0.2126, encoded 0.4984; of green 0.7152, 0.8650.
    picture = Image.fromarray(np.array([[[255, 0, 0], [0, 255, 0]]], np.uint8))
    assert np.asarray(luminance(picture)).tolist() == [[127, 220]]


def converted(picture: Image.Image) -> Bytes:
    return np.asarray(converter(picture)(picture))


def test_display_p3_becomes_srgb() -> None:
    values = colours(4000)
    picture = Image.fromarray(values)
    picture.info["icc_profile"] = matrix_profile(*P3)
    linear = np.where(
        values / 255 <= 0.04045, values / 255 / 12.92, ((values / 255 + 0.055) / 1.055) ** 2.4
    )
    expected = 255 * encode_srgb(np.clip(linear @ P3_TO_XYZ.T @ XYZ_TO_SRGB.T, 0, 1))
    assert np.abs(converted(picture) - expected).max() <= 1.5


def test_a_profile_that_is_srgb_by_effect_changes_nothing() -> None:
    values = colours()
    for profile in (
        matrix_profile(*SRGB),
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
    ):
        picture = Image.fromarray(values)
        picture.info["icc_profile"] = profile
        assert np.array_equal(converted(picture), values)


@pytest.mark.parametrize(
    "profile", [b"broken", bytes(128), matrix_profile(*P3)[:200], ink_profile({})]
)
def test_a_profile_that_cannot_be_used_is_taken_for_srgb(profile: bytes) -> None:
    picture = Image.fromarray(colours())
    picture.info["icc_profile"] = profile
    assert np.array_equal(converted(picture), colours())


@pytest.mark.parametrize("profile", [None, b"broken"])
def test_inks_without_a_usable_profile_are_plain_inks(profile: bytes | None) -> None:
    picture = Image.new("CMYK", (20, 20), (0, 0, 0, 255))
    picture.paste((255, 0, 0, 0), (10, 0, 20, 20))
    if profile:
        picture.info["icc_profile"] = profile
    assert converted(picture)[0, [0, 19]].tolist() == [[0, 0, 0], [0, 255, 255]]


def test_inks_with_a_profile_are_what_the_profile_says() -> None:
    # Lab of paper and of solid magenta, near those of ISO 12647-2 (from memory). In the
    # table the last ink runs fastest: magenta is the third bit.
    paper, magenta = (95.0, 0.0, 0.0), (48.0, 74.0, -3.0)
    picture = Image.new("CMYK", (20, 20), (0, 255, 0, 0))
    picture.info["icc_profile"] = ink_profile({0b0000: paper, 0b0100: magenta})
    found = skimage.color.rgb2lab(converted(picture)[:1, :1], illuminant="D50")[0, 0]
    wanted = skimage.color.lab2rgb(np.array([[magenta]]), illuminant="D50")[0, 0]
    assert np.abs(converted(picture)[0, 0] / 255 - wanted).max() < 0.08, found


def test_lab_becomes_srgb() -> None:
    # L* 53.24, a* 80.09, b* 67.20 is sRGB red under D65 (a common worked example); the
    # file's white is D50, so only neutrals are compared: L* 50 is Y 0.184, encoded 119.
    picture = Image.new("LAB", (4, 4), (round(50 * 2.55), 128, 128))
    assert np.abs(converted(picture)[0, 0].astype(int) - 119).max() <= 2


@pytest.mark.parametrize("mode", ["RGBA", "LA", "RGBa", "La", "P"])
def test_what_is_transparent_lies_on_white(mode: str) -> None:
    base = Image.new("RGBA", (20, 20), (0, 0, 0, 0))
    base.paste((0, 0, 0, 255), (10, 0, 20, 20))
    base.paste((0, 0, 0, 128), (0, 10, 10, 20))
    if mode == "P":
        picture = base.quantize(8, method=Image.Quantize.FASTOCTREE)
    else:
        grey = mode.lower() == "la"
        picture = base.convert("LA") if grey else base
        picture = picture.convert(mode) if picture.mode != mode else picture
    levels = converted(picture).reshape(20, 20, -1)[[0, 0, 19], [0, 19, 0], 0]
    assert np.abs(levels.astype(int) - [255, 0, 127]).max() <= 1


@pytest.mark.parametrize(("mode", "key"), [("L", 9), ("P", 0), ("RGB", (9, 9, 9))])
def test_a_key_colour_lies_on_white(mode: str, key: object) -> None:
    base = Image.new("RGB", (4, 4), (9, 9, 9))
    picture = base.quantize(2) if mode == "P" else base.convert(mode)
    picture.info["transparency"] = key
    assert converted(picture).min() == 255


def test_sixteen_bits_are_scaled_and_not_clipped() -> None:
    levels = np.arange(256, dtype=np.uint16)
    for picture in (
        Image.fromarray((levels * 257)[np.newaxis]),
        Image.fromarray((levels * 257).astype(np.int32)[np.newaxis]),
        Image.fromarray((levels / 255).astype(np.float32)[np.newaxis]),
        Image.fromarray(levels.astype(np.float32)[np.newaxis]),
    ):
        assert np.array_equal(converted(picture)[0], levels), picture.mode


def test_floats_of_no_known_range_are_fitted_and_what_is_no_number_is_dark() -> None:
    values = np.array([[-10.0, 0.0, 10.0, np.nan, np.inf]], np.float32)
    assert converted(Image.fromarray(values))[0].tolist() == [0, 128, 255, 0, 255]


def test_black_and_white_and_other_modes_are_understood() -> None:
    base = Image.new("RGB", (8, 8), (200, 30, 60))
    for mode in ("YCbCr", "HSV", "RGBX"):
        assert np.abs(converted(base.convert(mode))[0, 0].astype(int) - [200, 30, 60]).max() <= 3
    assert converted(Image.new("1", (8, 8), 1)).min() == 255
