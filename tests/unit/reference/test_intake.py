"""Taking in: upright, in its own colours, nothing of the sender's kept, the same each time."""

from __future__ import annotations

import hashlib
import io
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skimage.data
from PIL import Image, ImageCms, ImageOps

from tests.unit.reference.samples import Bytes, exact_grey, matrix_profile, quarters, saved, taken
from worker.errors import PhotoError, ReferenceType
from worker.reference import reading_file
from worker.reference.decode import DecodedPhoto, Limits
from worker.reference.intake import take_in, upright_part
from worker.reference.master import Master
from worker.reference.study_file import load_study
from worker.spec.reading import Face

ENCODERS = (("JPEG", "jpeg"), ("PNG", "png"), ("WEBP", "webp"), ("TIFF", "tiff"), ("AVIF", "avif"))
PRIVATE = "Rosalba Example, serial 4711"


def exif_of(orientation: int) -> Image.Exif:
    """Orientation, with a place and names that nobody may see."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010E] = PRIVATE
    exif[0xA431] = PRIVATE
    exif.get_ifd(0x8825).update({1: "N", 2: (45.0, 26.0, 0.0), 3: "E", 4: (12.0, 20.0, 0.0)})
    return exif


def whole(folder: Path, style: str = "colour") -> Bytes:
    with Master.open(folder / "master.zip") as master:
        box = (0, 0, master.width_px, master.height_px)
        return np.asarray(master.window(style, box))  # type: ignore[arg-type]


def assert_upright(pixels: Bytes) -> None:
    """Red, green, blue and yellow are where `quarters` puts them."""
    height, width = pixels.shape[:2]
    rows, columns = [height // 4, height * 3 // 4], [width // 4, width * 3 // 4]
    corners = pixels[np.ix_(rows, columns)].reshape(4, 3).astype(int)
    wanted = [[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 0]]
    assert np.abs(corners - wanted).max() < 40, corners.tolist()


def turned_for(orientation: int, picture: Image.Image) -> Image.Image:
    """The picture stored so that this orientation shows it upright."""
    inverse = {6: 8, 8: 6}.get(orientation, orientation)
    copy = picture.copy()
    copy.getexif()[0x0112] = inverse
    return ImageOps.exif_transpose(copy)


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize(("encoder", "name"), ENCODERS)
def test_every_orientation_comes_out_upright(
    tmp_path: Path, encoder: str, name: str, orientation: int
) -> None:
    stored = turned_for(orientation, quarters())
    result = taken(saved(stored, encoder, exif=exif_of(orientation)), tmp_path)
    assert (result.width_px, result.height_px, result.format) == (96, 64, name)
    assert_upright(whole(tmp_path))
    with Image.open(tmp_path / "preview.jpg") as preview:
        assert preview.size == (96, 64)
        assert_upright(np.asarray(preview))


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_once(tmp_path: Path, orientation: int) -> None:
    stored = turned_for(orientation, quarters())
    result = taken(saved(stored, "HEIF", exif=exif_of(orientation).tobytes()), tmp_path)
    assert (result.width_px, result.height_px, result.format) == (96, 64, "heic")
    assert_upright(whole(tmp_path))


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_part_turned_is_the_part_of_the_whole_turned(orientation: int) -> None:
    values = np.random.default_rng(1).integers(0, 256, (37, 53, 3), dtype=np.uint8)
    stored = Image.fromarray(values)
    decoded = DecodedPhoto(image=stored, kind="jpeg", orientation=orientation)
    copy = stored.copy()
    copy.getexif()[0x0112] = orientation
    upright = ImageOps.exif_transpose(copy)
    assert decoded.upright_size_px == upright.size
    box = (3, 5, 30, 21)
    assert np.array_equal(np.asarray(upright_part(decoded, box)), np.asarray(upright.crop(box)))


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize("encoder", ["JPEG", "PNG", "WEBP", "TIFF", "AVIF", "HEIF"])
def test_nothing_of_the_sender_is_kept(tmp_path: Path, encoder: str) -> None:
    profile = matrix_profile(
        np.array([0.515, 0.241, -0.001]),
        np.array([0.292, 0.692, 0.042]),
        np.array([0.157, 0.067, 0.784]),
    )
    xmp = f"<x:xmpmeta xmlns:x='adobe:ns:meta/'>{PRIVATE}</x:xmpmeta>".encode()
    exif = exif_of(6)
    options = {"exif": exif.tobytes() if encoder == "HEIF" else exif, "icc_profile": profile}
    if encoder in {"JPEG", "WEBP", "AVIF", "HEIF"}:
        options["xmp"] = xmp
    if encoder == "JPEG":
        options["comment"] = PRIVATE.encode()
    # Wider than the preview, and than one tile.
    picture = quarters(1700, 600)
    if encoder == "HEIF":
        picture.info["icc_profile"] = profile
    data = saved(picture, encoder, **options)
    assert PRIVATE.encode() in data, "the sample must carry what is to be dropped"
    taken(data, tmp_path)
    files = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert sorted(files) == ["master.zip", "preview.jpg", "study.npz"]
    with zipfile.ZipFile(tmp_path / "master.zip") as master:
        files |= {name: master.read(name) for name in master.namelist()}
    for name, content in files.items():
        assert b"Rosalba" not in content, name
        if name.endswith(".jpg"):
            picture = Image.open(io.BytesIO(content))
            assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}, name
            assert not dict(picture.getexif())


def test_the_name_does_not_matter_and_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    path.write_text("This is a shopping list.")
    with path.open("rb") as source, pytest.raises(ReferenceType, match="text"):
        taken(source.read(), tmp_path)


def test_a_refused_photo_leaves_no_master(tmp_path: Path) -> None:
    with pytest.raises(PhotoError):
        taken(saved(quarters(400, 300), "JPEG")[:900], tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_the_same_photo_gives_the_same_bytes(tmp_path: Path) -> None:
    data = saved(Image.fromarray(skimage.data.astronaut()), "JPEG", quality=92)
    made = []
    for threads in (1, 3):
        folder = tmp_path / str(threads)
        folder.mkdir()
        result = take_in(io.BytesIO(data), folder, Limits(), threads=threads)
        assert result.sha256 == hashlib.sha256(data).hexdigest()
        made.append({path.name: path.read_bytes() for path in folder.iterdir()})
    assert made[0] == made[1]


def test_the_study_is_read_back_as_it_was(tmp_path: Path) -> None:
    result = taken(saved(Image.fromarray(skimage.data.coffee()), "PNG"), tmp_path)
    read = load_study(tmp_path / "study.npz")
    assert (read.width_px, read.height_px) == (600, 400) == (result.width_px, result.height_px)
    assert np.array_equal(read.thumb, result.study.thumb)
    assert read.thumb.shape == (213, 320)
    assert [level.pixel_size_px for level in read.levels] == [1, 2]
    for ours, theirs in zip(read.levels, result.study.levels, strict=True):
        assert np.array_equal(ours.density, theirs.density)


def test_the_reading_is_packed_once_for_master_and_study(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed: list[tuple[Face, ...]] = []
    rows = reading_file._rows

    def counted(faces: tuple[Face, ...]) -> Any:
        packed.append(faces)
        return rows(faces)

    monkeypatch.setattr(reading_file, "_rows", counted)
    taken(saved(quarters(400, 300), "PNG"), tmp_path)
    assert len(packed) == 1
    with zipfile.ZipFile(tmp_path / "master.zip") as master:
        once = master.read("reading.npz")
    with np.load(tmp_path / "study.npz", allow_pickle=False) as study:
        assert study["reading"].tobytes() == once
    # numpy.load reads what numpy.savez_compressed would have written.
    with np.load(io.BytesIO(once), allow_pickle=False) as archive:
        assert archive["contour_0"].shape == (576, 768)


@pytest.mark.usefixtures("unread")
def test_a_large_photo_has_four_octaves_and_a_preview(tmp_path: Path) -> None:
    photo = Image.fromarray(skimage.data.astronaut()).resize((6000, 4000))
    result = taken(saved(photo, "JPEG"), tmp_path)
    assert [level.pixel_size_px for level in result.study.levels] == [2, 4, 8, 16]
    assert result.study.levels[0].density.shape == (500, 750)
    with Image.open(tmp_path / "preview.jpg") as preview:
        assert (preview.size, preview.mode) == ((1600, 1067), "RGB")


@pytest.mark.usefixtures("unread")
def test_grey_and_colour_masters_are_near_their_source(tmp_path: Path) -> None:
    photo = skimage.data.astronaut()
    taken(saved(Image.fromarray(photo), "PNG"), tmp_path)
    assert np.abs(whole(tmp_path).astype(int) - photo).mean() < 2.5
    assert np.abs(whole(tmp_path, "grey") - exact_grey(photo)).mean() < 1.5


@pytest.mark.usefixtures("unread")
def test_a_photo_without_colour_is_kept_in_grey_alone(tmp_path: Path) -> None:
    photo = skimage.data.camera()
    taken(saved(Image.fromarray(photo), "PNG"), tmp_path)
    with zipfile.ZipFile(tmp_path / "master.zip") as master:
        assert not [name for name in master.namelist() if name.startswith("colour")]
    grey, colour = whole(tmp_path, "grey"), whole(tmp_path)
    assert np.abs(grey.astype(int) - photo).mean() < 1.5
    assert np.array_equal(colour, np.repeat(grey[..., np.newaxis], 3, axis=2))


@pytest.mark.usefixtures("unread")
def test_sixteen_bits_of_a_file_are_scaled(tmp_path: Path) -> None:
    ramp = np.tile(np.linspace(0, 65535, 256).astype(np.uint16), (64, 1))
    for kind in ("PNG", "TIFF"):
        taken(saved(Image.fromarray(ramp), kind), tmp_path)
        assert np.abs(whole(tmp_path, "grey")[32].astype(int) - np.arange(256)).max() <= 2


@pytest.mark.usefixtures("unread")
def test_a_cmyk_photo_from_a_press_is_read(tmp_path: Path) -> None:
    taken(saved(quarters().convert("CMYK"), "JPEG", quality=95), tmp_path)
    assert_upright(whole(tmp_path))
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    taken(saved(quarters().convert("CMYK"), "TIFF", icc_profile=profile), tmp_path)
    assert_upright(whole(tmp_path))
