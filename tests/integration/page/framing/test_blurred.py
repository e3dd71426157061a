"""What the frame says of a photo that was enlarged before."""

from __future__ import annotations

from pathlib import Path

import skimage.data
from PIL import Image

from tests.integration.page.conftest import Phone
from tests.integration.page.steps import Words, choose_photo, heading

WORDS = Words()


def test_the_frame_says_what_an_enlarged_photo_is_worth(phone: Phone, tmp_path: Path) -> None:
    large = Image.fromarray(skimage.data.astronaut()).resize((1536, 1536))
    large.save(tmp_path / "large.jpg", quality=75)
    choose_photo(phone.open(), tmp_path / "large.jpg", WORDS)
    page = phone.open("frame")
    heading(page, WORDS("frame.title")).wait_for()
    told = WORDS("sheets.warning.reference-blurred", width=540, height=540)
    page.locator(".sharpness summary").click()
    page.locator(".sharpness p", has_text=told).wait_for()
