"""Files that cannot be read: one clear line each, before anything is decoded."""

from __future__ import annotations

import contextlib
import os
import shutil
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from analyser.errors import PhotoError
from analyser.photo.reading import read
from tests.photo.photo_files import (
    HEIC,
    exif_of,
    picture,
    png_chunk,
    png_with,
    save,
)


def refusal(path: object, **options: float) -> str:
    with pytest.raises(PhotoError) as caught:
        read(path, **options)  # type: ignore[arg-type]  # values of several types
    text = str(caught.value)
    assert "\n" not in text
    assert text.startswith(str(path))
    assert len(text) < len(str(path)) + 160
    return text


def test_missing_folder_and_empty(tmp_path):
    assert "no such file" in refusal(tmp_path / "nothing.jpg")
    assert "no such file" in refusal(tmp_path / "no" / "folder.jpg")
    assert "is a folder" in refusal(tmp_path)
    (tmp_path / "empty.jpg").touch()
    assert "is empty" in refusal(tmp_path / "empty.jpg")
    save(tmp_path / "a.jpg")
    assert "cannot be opened" in refusal(tmp_path / "a.jpg" / "b.jpg")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
def test_a_pipe_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "not a regular file" in refusal(tmp_path / "pipe.jpg")


def test_a_file_without_permission(tmp_path, monkeypatch):
    path = save(tmp_path / "a.jpg")

    def deny(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "read_bytes", deny)  # as root, no mode of a file denies reading
    assert "may not be read" in refusal(path)


def test_what_is_no_photo(tmp_path):
    for name, data in (
        ("note.jpg", b"dear customer, the photo follows"),
        ("x.png", bytes(1000)),
        ("x.heic", b"\0\0\0\x18ftypisom" + bytes(100)),
        ("x.jpg", b"\xff\xd8"),
    ):
        (tmp_path / name).write_bytes(data)
        assert "photo" in refusal(tmp_path / name)
    Image.fromarray(picture()).save(tmp_path / "a.gif")
    assert "GIF" in refusal(tmp_path / "a.gif")
    Image.fromarray(picture()).save(tmp_path / "a.bmp")
    assert "BMP" in refusal(tmp_path / "a.bmp")


@pytest.mark.parametrize(
    "name", ["a.jpg", "progressive.jpg", "a.png", "a.webp", "a.tiff", "16.tiff", "a.heic"]
)
def test_a_truncated_file_is_never_half_a_photo(tmp_path, name, capfd):
    noise = np.random.default_rng(0).integers(0, 256, (120, 160, 3), dtype=np.uint8)
    whole = tmp_path / f"whole-{name}"
    if name == "a.heic":
        shutil.copy(HEIC / "plain.heic", whole)
    elif name == "16.tiff":
        cv2.imwrite(str(whole), noise.astype(np.uint16) * 257)
    else:
        extra = {"progressive": True} if name.startswith("progressive") else {}
        save(whole, noise, **extra)
    data = whole.read_bytes()
    read(whole)
    for share in (0.02, 0.3, 0.6, 0.9, 0.99):
        (tmp_path / name).write_bytes(data[: int(len(data) * share)])
        for about in (None, 2000):
            assert "cut short or damaged" in refusal(tmp_path / name, about_pixels=about)
    assert capfd.readouterr() == ("", "")  # decoders' own remarks stay away from the user


def test_damage_inside_a_jpeg_is_noticed(tmp_path, capfd):
    noise = np.random.default_rng(0).integers(0, 256, (240, 320, 3), dtype=np.uint8)
    data = bytearray(save(tmp_path / "a.jpg", noise).read_bytes())
    middle = len(data) // 2
    data[middle : middle + 4000] = bytes(4000)
    (tmp_path / "b.jpg").write_bytes(data)
    assert "damaged" in refusal(tmp_path / "b.jpg")
    assert capfd.readouterr() == ("", "")


def test_what_follows_or_pads_a_jpeg_does_no_harm(tmp_path):
    data = save(tmp_path / "a.jpg").read_bytes()
    plain = read(tmp_path / "a.jpg").linear
    film = b"\0\0\0\x18ftypmp42" + bytes(5000)  # as behind a moving photo
    for number, other in enumerate((data + film, data[:-2] + bytes(7) + data[-2:])):
        path = tmp_path / f"{number}.jpg"
        path.write_bytes(other)
        np.testing.assert_array_equal(read(path).linear, plain)


def test_the_end_of_a_thumbnail_is_not_the_end_of_the_photo(tmp_path):
    data = save(tmp_path / "a.jpg").read_bytes()
    thumbnail = b"JFXX\0\x10" + data
    segment = b"\xff\xe0" + struct.pack(">H", 2 + len(thumbnail)) + thumbnail
    whole = data[:2] + segment + data[2:]
    (tmp_path / "b.jpg").write_bytes(whole)
    assert read(tmp_path / "b.jpg").width == 96
    (tmp_path / "b.jpg").write_bytes(whole[:-500])
    assert "cut short" in refusal(tmp_path / "b.jpg")


def test_damage_inside_a_png_is_noticed(tmp_path):
    data = bytearray(save(tmp_path / "a.png").read_bytes())
    data[len(data) // 2] ^= 0x55
    (tmp_path / "b.png").write_bytes(data)
    assert "damaged" in refusal(tmp_path / "b.png")


def test_a_png_with_too_few_rows_is_refused(tmp_path, capfd):
    head = struct.pack(">IIBBBBB", 64, 64, 8, 2, 0, 0, 0)
    few = zlib.compress(bytes(193 * 10))
    chunks = png_chunk(b"IHDR", head) + png_chunk(b"IDAT", few) + png_chunk(b"IEND", b"")
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + chunks)
    assert "damaged" in refusal(tmp_path / "a.png")
    assert capfd.readouterr() == ("", "")


def bomb(kind: str, side: int) -> bytes:
    """A tiny file that claims side x side pixels."""
    if kind == "png":
        head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
        parts = ((b"IHDR", head), (b"IDAT", zlib.compress(bytes(1000))), (b"IEND", b""))
        return b"\x89PNG\r\n\x1a\n" + b"".join(png_chunk(*part) for part in parts)
    if kind == "jpg":
        frame = struct.pack(">BHHB", 8, side, side, 3) + bytes([1, 17, 0, 2, 17, 1, 3, 17, 1])
        scan = bytes([3, 1, 0, 2, 17, 3, 17, 0, 63, 0])
        segments = b"\xff\xc0" + struct.pack(">H", 2 + len(frame)) + frame
        return b"\xff\xd8" + segments + b"\xff\xda" + struct.pack(">H", 2 + len(scan)) + scan + b"\0\xff\xd9"
    if kind == "webp":
        size = struct.pack("<I", side - 1)[:3]
        chunk = b"VP8X" + struct.pack("<I", 10) + bytes(4) + size * 2
        return b"RIFF" + struct.pack("<I", 4 + len(chunk)) + b"WEBP" + chunk
    entries = [(256, 4, side), (257, 4, side), (258, 3, 8 << 16), (262, 3, 2 << 16), (277, 3, 3 << 16)]
    body = b"".join(struct.pack(">HHII", tag, code, 1, value) for tag, code, value in entries)
    return b"MM\0*" + struct.pack(">IH", 8, len(entries)) + body + bytes(4)


@pytest.mark.parametrize("kind", ["png", "jpg", "webp", "tiff"])
def test_a_bomb_is_refused_before_it_is_decoded(tmp_path, kind, monkeypatch):
    path = tmp_path / f"bomb.{kind}"
    path.write_bytes(bomb(kind, 60_000))
    monkeypatch.setattr(cv2, "imdecode", lambda *_: pytest.fail("a bomb was given to the decoder"))
    assert "has 60000 x 60000 pixels, the limit is 200 megapixels" in refusal(path)


@pytest.mark.parametrize("side", [0, 4])
def test_a_heic_of_no_pixels_is_refused(tmp_path, side):
    data = bytearray((HEIC / "plain.heic").read_bytes())
    at = data.index(b"ispe") + 8  # ISO/IEC 23008-12, 6.5.3: version and flags, width, height
    data[at + side : at + side + 4] = bytes(4)
    (tmp_path / "none.heic").write_bytes(data)
    assert "damaged" in refusal(tmp_path / "none.heic")


def test_the_limit_can_be_moved(tmp_path):
    path = save(tmp_path / "a.jpg", np.zeros((1100, 1000, 3), np.uint8))
    assert "has 1000 x 1100 pixels, the limit is 1 megapixels" in refusal(path, limit_mp=1)
    assert read(path, limit_mp=1.2).width == 1000
    assert "limit" in refusal(HEIC / "plain.heic", limit_mp=0.001)


def test_too_little_memory_is_said(tmp_path, monkeypatch):
    def out_of_memory(*_: object) -> None:
        raise MemoryError

    path = save(tmp_path / "a.png")
    monkeypatch.setattr(np, "empty", out_of_memory)
    assert "more memory" in refusal(path)


def test_a_bomb_of_a_profile_is_told(tmp_path):
    packed = zlib.compress(bytes(200 << 20), 1)
    photo = read(png_with(tmp_path / "a.png", (b"iCCP", b"p\0\0" + packed)))
    assert photo.profile == "unreadable (sRGB assumed)"


def test_cmyk_is_refused(tmp_path):
    for name in ("a.jpg", "a.tiff"):
        Image.fromarray(picture()).convert("CMYK").save(tmp_path / name)
        assert "CMYK" in refusal(tmp_path / name)


def test_other_tiffs_are_refused(tmp_path):
    tifffile = pytest.importorskip("tifffile", reason="writes the odd TIFF files read here")
    tifffile.imwrite(tmp_path / "f.tiff", (picture() / 255).astype(np.float32), photometric="rgb")
    assert "decimal numbers" in refusal(tmp_path / "f.tiff")
    planes = np.moveaxis(picture().astype(np.uint16) * 257, 2, 0)
    tifffile.imwrite(tmp_path / "p.tiff", planes, photometric="rgb", planarconfig="separate")
    assert "separate colour planes" in refusal(tmp_path / "p.tiff")
    tags = [(254, "I", 1, 1, True)]
    tifffile.imwrite(tmp_path / "r.nef", picture(), photometric="rgb", extratags=tags, subfiletype=1)
    assert "raw file" in refusal(tmp_path / "r.nef")
    srgb, lab = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
    in_lab = ImageCms.profileToProfile(Image.fromarray(picture()), srgb, lab, outputMode="LAB")
    in_lab.save(tmp_path / "l.tiff")
    assert "neither RGB nor grey" in refusal(tmp_path / "l.tiff")


@pytest.mark.parametrize("name", ["a.gif", "a.webp", "a.png"])
def test_animations_are_refused(tmp_path, name):
    frames = [Image.fromarray(picture()), Image.fromarray(picture()[::-1].copy())]
    frames[0].save(tmp_path / name, save_all=True, append_images=frames[1:], duration=100)
    assert "save" in refusal(tmp_path / name)


def test_a_line_break_in_a_name_stays_one_line(tmp_path):
    with pytest.raises(PhotoError) as caught:
        read(tmp_path / "two\nlines.jpg")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp", "a.tiff", "a.heic"])
def test_damaged_files_raise_nothing_but_photo_error(tmp_path, name):
    if name == "a.heic":
        good = (HEIC / "orientation-6.heic").read_bytes()
    else:
        options = {"tiffinfo": {274: 6}} if name == "a.tiff" else {"exif": exif_of(6)}
        good = save(tmp_path / name, **options).read_bytes()
    random = np.random.default_rng(11)
    for _ in range(60):
        bad = bytearray(good)
        for at in random.integers(0, min(len(bad), 300), 4):
            bad[at] = random.integers(0, 256)
        (tmp_path / name).write_bytes(bad)
        with contextlib.suppress(PhotoError):
            photo = read(tmp_path / name, about_pixels=3000, limit_mp=5)
            assert np.isfinite(photo.linear).all()
