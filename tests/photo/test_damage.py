"""Half-copied and holed photo files: refused or told, never a picture that is made up in silence."""

from __future__ import annotations

import io
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from analyser.colour.spaces import linear_to_lab
from analyser.errors import PhotoError
from analyser.photo import damage
from analyser.photo.reading import Photo, read

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
FORMATS = {  # suffix and what Pillow is told
    "jpeg": ("JPEG", {"quality": 90}),
    "jpeg-optimised": ("JPEG", {"quality": 90, "optimize": True}),
    "jpeg-progressive": ("JPEG", {"quality": 90, "progressive": True}),
    "png": ("PNG", {}),
    "tiff": ("TIFF", {}),
    "tiff-lzw": ("TIFF", {"compression": "tiff_lzw"}),
    "tiff-deflate": ("TIFF", {"compression": "tiff_adobe_deflate"}),
    "webp": ("WEBP", {"quality": 85}),
    "webp-lossless": ("WEBP", {"lossless": True}),
}
ABOUT = 60_000
PLACES = np.random.default_rng(5).uniform(0.05, 0.97, 10)
# Of the pixels; more would be a colour of the palette.
SILENT_AT_MOST = 0.015


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[bytes, Photo]]:
    """Each format's file and how it reads when whole."""
    with Image.open(SAMPLES / "outfit-scarf.jpg") as picture:
        small = picture.convert("RGB").resize((480, 360))
    files = {}
    for name, (kind, options) in FORMATS.items():
        stream = io.BytesIO()
        small.save(stream, kind, **options)
        files[name] = stream.getvalue()
    sixteen = np.asarray(small)[..., ::-1].astype(np.uint16) * 257
    files["tiff-16"] = cv2.imencode(".tiff", sixteen)[1].tobytes()
    files["heic"] = (SAMPLES / "harbour-tiles.heic").read_bytes()
    folder = tmp_path_factory.mktemp("whole")
    read_whole = {}
    for name, data in files.items():
        (folder / name).write_bytes(data)
        read_whole[name] = data, read(folder / name, about_pixels=ABOUT)
    return read_whole


def wrong_share(intact: Photo, damaged: Photo) -> float:
    """Share of the pixels that are shown and differ by more than 5 in Lab."""
    one, two = (linear_to_lab(np.clip(photo.linear, 0, 1)) for photo in (intact, damaged))
    wrong = np.linalg.norm(one - two, axis=-1) > 5
    return float((wrong if damaged.opaque is None else wrong & damaged.opaque).mean())


def cut(data: bytes, at: int) -> bytes:
    return data[:at]


def half_copied(data: bytes, at: int) -> bytes:
    return data[:at] + bytes(len(data) - at)


def holed(data: bytes, at: int) -> bytes:
    """A sector of a failing card."""
    return data[:at] + bytes(min(512, len(data) - at)) + data[at + 512 :]


def short_of_a_sector(data: bytes, at: int) -> bytes:
    return data[:at] + data[at + 512 :]


@pytest.mark.parametrize("harm", [cut, half_copied, holed, short_of_a_sector])
@pytest.mark.parametrize("name", [*FORMATS, "tiff-16", "heic"])
def test_a_damaged_file_is_refused_or_told(whole, tmp_path, name, harm):
    data, intact = whole[name]
    path = tmp_path / "photo"
    for share in PLACES:
        path.write_bytes(harm(data, int(share * len(data))))
        try:
            found = read(path, about_pixels=ABOUT)
        except PhotoError:
            continue
        assert wrong_share(intact, found) < SILENT_AT_MOST
        if harm is half_copied:
            assert any("not copied whole" in note for note in found.notes)


@pytest.mark.parametrize(
    ("kind", "options"),
    [("WEBP", {"quality": 80}), ("WEBP", {"lossless": True}), ("JPEG", {"optimize": True}),
     ("JPEG", {"progressive": True}), ("TIFF", {"compression": "tiff_adobe_deflate"}), ("TIFF", {})],
)  # fmt: skip
@pytest.mark.parametrize("colour", [(255, 255, 255), (0, 0, 0), (128, 128, 128), (200, 30, 40)])
def test_plain_pictures_hold_nought_by_right(tmp_path, kind, options, colour):
    Image.new("RGB", (2000, 1500), colour).save(tmp_path / "plain", kind, **options)
    photo = read(tmp_path / "plain", about_pixels=ABOUT)
    assert not photo.notes or colour == (0, 0, 0)


def test_black_rows_at_the_foot_are_counted_with_the_one_they_begin_in():
    stored = np.full((200, 50, 3), 9, np.uint8)
    assert damage.rows_not_written(stored) == 0
    stored[-1:] = 0
    assert damage.rows_not_written(stored) == 0  # a scanner's edge
    stored[150:] = 0
    assert damage.rows_not_written(stored) == 51
