"""A reading as bytes, and back."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np

from worker.reference.reading_file import reading_bytes, reading_from
from worker.spec.reading import MAPS, Face, Maps, Reading
from worker.spec.spec import Area


def area(left: float) -> Area:
    return Area(left=left, top=0.25, width=0.25, height=0.5)


def maps(first: int) -> dict[str, np.ndarray]:
    """Maps that all differ."""
    places = np.arange(12, dtype=np.uint8).reshape(3, 4)
    return {name: places + np.uint8(first + 20 * at) for at, name in enumerate(MAPS)}


READING = Reading(
    **maps(0),
    subject=np.arange(100, 106, dtype=np.uint8).reshape(2, 3),
    faces=(Face(box=area(0.25), head=area(0.5), eyes=(area(0.125), area(0.75))),),
    insets=(Maps(area=area(0.25), **maps(7)),),
)


def test_what_was_written_is_read() -> None:
    read = reading_from(reading_bytes(READING))
    assert np.array_equal(read.subject, READING.subject)
    assert read.faces == READING.faces
    for one, other in ((read, READING), (read.insets[0], READING.insets[0])):
        assert one.area == other.area
        for name in MAPS:
            assert np.array_equal(getattr(one, name), getattr(other, name))


def test_the_same_reading_gives_the_same_bytes() -> None:
    assert reading_bytes(READING) == reading_bytes(replace(READING))


def test_of_one_that_knows_no_subject_none_is_known() -> None:
    with np.load(io.BytesIO(reading_bytes(READING))) as archive:
        before = {name: archive[name] for name in archive.files if name != "subject"}
    file = io.BytesIO()
    np.savez(file, **before)
    assert reading_from(file.getvalue()).subject.tolist() == [[128]]
