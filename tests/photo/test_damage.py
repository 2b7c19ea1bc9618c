"""Half-copied and holed photo files: refused or told, never a picture that is made up in silence."""

from __future__ import annotations

import io
import re
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from analyser.colour.spaces import linear_to_lab, linear_to_srgb
from analyser.errors import PhotoError
from analyser.photo import broken_scan, damage, heic_check
from analyser.photo.reading import Photo, read
from synthetic import hard_ropes

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
HEIC = Path(__file__).parent / "heic"
FORMATS = {  # suffix and what Pillow is told
    "jpeg": ("JPEG", {"quality": 90}),
    "jpeg-optimised": ("JPEG", {"quality": 90, "optimize": True}),
    "jpeg-restarts": ("JPEG", {"quality": 90, "restart_marker_rows": 1}),
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


def scan_shifted(picture: np.ndarray, row: int, column: int, by: tuple[int, int, int]) -> np.ndarray:
    """The picture as decoded when all blocks of 16 pixels behind a place have lost the same step."""
    ycc = cv2.cvtColor(picture, cv2.COLOR_RGB2YCrCb).astype(int)
    ycc[16 * row : 16 * row + 16, 16 * column :] += by
    ycc[16 * row + 16 :] += by
    return cv2.cvtColor(np.clip(ycc, 0, 255).astype(np.uint8), cv2.COLOR_YCrCb2RGB)


@pytest.fixture(scope="module")
def outfit() -> np.ndarray:
    with Image.open(SAMPLES / "outfit-scarf.jpg") as picture:
        return np.asarray(picture.convert("RGB").resize((640, 480)))


@pytest.mark.parametrize("by", [(9, 0, 0), (-60, 0, 0), (0, 9, -9), (0, 0, 30), (90, -40, 40)])
@pytest.mark.parametrize(("row", "column"), [(3, 20), (12, 7), (20, 33)])
def test_a_step_that_stays_is_a_broken_scan(outfit, row, column, by):
    shifted = scan_shifted(outfit, row, column, by)
    assert broken_scan.may_jump(shifted, 16, 16)
    assert broken_scan.jumps(shifted, 16, 16)


@pytest.mark.parametrize("by", [(40, 0, 0), (-60, 0, 0), (0, 14, -14), (0, 0, 30), (90, -40, 40)])
@pytest.mark.parametrize(("row", "column"), [(3, 20), (12, 7), (20, 31)])
def test_a_step_to_the_next_restart_marker_is_a_broken_scan(outfit, row, column, by):
    shifted = outfit.copy()
    shifted[16 * row : 16 * row + 16] = scan_shifted(outfit, row, column, by)[16 * row : 16 * row + 16]
    assert broken_scan.may_jump(shifted, 16, 16, 40)
    assert broken_scan.rows_off(shifted, 16, 16, 40).tolist() == [row]


@pytest.mark.parametrize(("row", "column"), [(0, 12), (29, 20), (17, 0), (8, 1)])
def test_the_first_the_last_and_a_whole_row_are_found_by_their_tint(outfit, row, column):
    shifted = outfit.copy()
    shifted[16 * row : 16 * row + 16] = scan_shifted(outfit, row, column, (0, 12, -9))[16 * row :][:16]
    assert broken_scan.may_jump(shifted, 16, 16, 40)
    assert broken_scan.rows_off(shifted, 16, 16, 40).tolist() == [row]


@pytest.mark.parametrize("by", [(-30, 0, 0), (0, 0, 12), (25, -14, 9)])
@pytest.mark.parametrize("column", [33, 35, 37])
def test_a_few_blocks_that_are_off_at_the_edge_are_found(outfit, column, by):
    shifted = outfit.copy()
    shifted[16 * 18 : 16 * 19] = scan_shifted(outfit, 18, column, by)[16 * 18 : 16 * 19]
    assert broken_scan.may_jump(shifted, 16, 16, 40)
    assert broken_scan.rows_off(shifted, 16, 16, 40).tolist() == [18]


@pytest.mark.parametrize("about", [None, 60_000])
@pytest.mark.parametrize("turn", [1, 6])
def test_a_row_that_is_off_is_left_out_and_told(outfit, tmp_path, about, turn):
    # Twice the size, so that a smaller decode is taken; the marker behind the row is where its means end.
    told = Image.Exif()
    told[274] = turn
    large = Image.fromarray(outfit).resize((1280, 960))
    large.save(tmp_path / "whole", "JPEG", quality=90, restart_marker_rows=1, exif=told)
    data = (tmp_path / "whole").read_bytes()
    row = 20
    markers = [found.start() for found in re.finditer(rb"\xff[\xd0-\xd7]", data)][:59]
    within = data[markers[row - 1] + 2 : markers[row]]
    refused = 0
    for at in range(len(within) // 4, len(within) // 2, 40):
        broken = data[: markers[row - 1] + 2] + within[:at] + within[at + 16 :] + data[markers[row] :]
        (tmp_path / "broken").write_bytes(broken)
        try:
            found = read(tmp_path / "broken", about_pixels=about)
        except PhotoError:
            refused += 1
            continue
        assert any("rows of the picture" in note for note in found.notes)
        hidden = found.opaque if turn == 1 else found.opaque[:, ::-1].T
        share = found.linear.shape[0 if turn == 1 else 1] / 960
        rows = np.flatnonzero(~hidden.any(axis=1)) / share
        assert abs(rows.min() - 16 * row) <= 8
        assert abs(rows.max() - 16 * (row + 1)) <= 8
        whole = read(tmp_path / "whole", about_pixels=about)
        assert np.abs(found.linear - whole.linear)[found.opaque].max() < 1e-6
        break
    else:
        pytest.fail(f"all {refused} were refused")


@pytest.mark.parametrize("name", sorted(path.name for path in SAMPLES.glob("*.jpg")))
@pytest.mark.parametrize(
    "options",
    [
        {"quality": 90, "restart_marker_rows": 1},
        {"quality": 60, "restart_marker_rows": 1, "progressive": True},
        {"quality": 95, "restart_marker_rows": 1, "subsampling": 0},
        {"quality": 80, "restart_marker_rows": 3},
        {"quality": 80, "restart_marker_blocks": 7},
    ],
)
def test_photos_with_restart_markers_are_no_broken_scans(tmp_path, name, options):
    with Image.open(SAMPLES / name) as picture:
        picture.convert("RGB").resize((1000, 750)).save(tmp_path / "photo", "JPEG", **options)
    assert not read(tmp_path / "photo").notes


@pytest.mark.parametrize("name", sorted(path.name for path in SAMPLES.glob("*.jpg")))
def test_photos_are_no_broken_scans(name):
    data = (SAMPLES / name).read_bytes()
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR_RGB)
    assert not broken_scan.jumps(picture, *broken_scan.block_size(data))


def test_a_rope_that_lies_along_the_picture_is_no_broken_scan():
    # Its edges, a little aslant, run along one row of blocks and then along the next; 63 of 400 were refused.
    linear = np.clip(hard_ropes.photograph(hard_ropes.scene(22036, faulty=False)).linear, 0, 1)
    rope = Image.fromarray(np.rint(255 * linear_to_srgb(linear)).astype(np.uint8)).resize((640, 102))
    turned = rope.transpose(Image.Transpose.ROTATE_180)
    for picture in (rope, turned):
        for top in range(0, 20, 2):
            picture_u8 = np.asarray(picture)[top:]
            assert not broken_scan.jumps(picture_u8, 16, 16)


@pytest.mark.parametrize("level", [0, 128, 255])
@pytest.mark.parametrize("part", [slice(0, 48), slice(400, 480), slice(192, 208)])
def test_bars_along_a_row_of_blocks_are_no_broken_scan(outfit, part, level):
    barred = outfit.copy()
    barred[part] = level
    assert not broken_scan.jumps(barred, 16, 16)
    assert not broken_scan.rows_off(barred, 16, 16, 40).size


def test_blocks_are_as_large_as_their_channels_are_sampled(tmp_path):
    for sampling, size in ((0, (8, 8)), (1, (8, 16)), (2, (16, 16))):
        stream = io.BytesIO()
        Image.new("RGB", (64, 64)).save(stream, "JPEG", subsampling=sampling)
        assert broken_scan.block_size(stream.getvalue()) == size
    assert broken_scan.block_size(b"\xff\xd8\xff\xda\0\2") == (0, 0)


@pytest.mark.parametrize(
    ("options", "blocks"), [({}, 0), ({"restart_marker_blocks": 7}, 7), ({"restart_marker_rows": 1}, 4)]
)
def test_restart_markers_stand_where_the_encoder_was_told(options, blocks):
    stream = io.BytesIO()
    Image.new("RGB", (64, 64)).save(stream, "JPEG", subsampling=2, **options)
    assert broken_scan.restart_interval(stream.getvalue()) == blocks


@pytest.mark.parametrize("names", [("jpeg", "jpeg-optimised"), ("jpeg-restarts",)])
def test_bytes_lost_within_a_jpeg_are_noticed(whole, tmp_path, names):
    # A break in the last or first blocks of a row may pass, or in the first or last row where restart markers
    # follow each: three of the 60 or 30 at most, as measured with 600.
    silent = 0
    for name in names:
        data, intact = whole[name]
        for share in np.random.default_rng(8).uniform(0.05, 0.95, 30):
            at = int(share * len(data))
            (tmp_path / "photo").write_bytes(data[:at] + data[at + 64 :])
            try:
                silent += wrong_share(intact, read(tmp_path / "photo", about_pixels=ABOUT)) >= SILENT_AT_MOST
            except PhotoError:
                continue
    assert silent <= 3


def means_off(data: bytes, times: int) -> bytes:
    """The JPEG with all means so many times as far from grey [ITU-T T.81, B.2.4.1]."""
    changed, at = bytearray(data), 2
    while data[at + 1] != 0xDA:
        if data[at + 1] == 0xDB:
            for table in range(at + 4, at + 2 + int.from_bytes(data[at + 2 : at + 4], "big"), 65):
                changed[table + 1] *= times
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return bytes(changed)


ENDS = [(255, 255, 255), (0, 0, 0), (255, 0, 0), (0, 0, 255), (0, 255, 0), (255, 255, 0), (0, 255, 255)]


@pytest.mark.parametrize("colour", ENDS)
@pytest.mark.parametrize("sampling", [0, 1, 2])
def test_means_that_no_samples_have_are_damage(tmp_path, colour, sampling):
    # Each of these has a channel within two levels of an end of its range: as far again is out of it.
    sound = np.full((480, 640, 3), 128, np.uint8)
    sound[128:384, 256:512] = colour
    for quality in (30, 75, 92):
        stream = io.BytesIO()
        Image.fromarray(sound).save(stream, "JPEG", quality=quality, subsampling=sampling)
        for about in (None, 4_000):
            (tmp_path / "photo").write_bytes(stream.getvalue())
            assert not read(tmp_path / "photo", about_pixels=about).notes
            (tmp_path / "photo").write_bytes(means_off(stream.getvalue(), 2))
            with pytest.raises(PhotoError, match="damaged"):
                read(tmp_path / "photo", about_pixels=about)


@pytest.mark.parametrize("mode", ["L", "RGB"])
@pytest.mark.parametrize("quality", [1, 20, 60, 95, 100])
def test_noise_at_both_ends_is_no_damage(tmp_path, mode, quality):
    noise = np.random.default_rng(quality).integers(0, 2, (120, 160, 3), np.uint8) * 255
    noise[:60, :80], noise[60:, 80:] = 0, 255
    for options in ({}, {"progressive": True}, {"subsampling": 0}):
        Image.fromarray(noise).convert(mode).save(tmp_path / "photo", "JPEG", quality=quality, **options)
        assert not read(tmp_path / "photo").notes


def test_padding_is_harmless_at_the_end_only(tmp_path):
    stream = io.BytesIO()
    Image.new("RGB", (64, 64), (90, 120, 60)).save(stream, "JPEG", progressive=True)
    data = stream.getvalue()
    (tmp_path / "photo").write_bytes(data[:-2] + bytes(8) + data[-2:])
    read(tmp_path / "photo")
    second = data.index(b"\xff\xda", data.index(b"\xff\xda") + 2)
    table = data.rindex(b"\xff\xc4", 0, second)
    (tmp_path / "photo").write_bytes(data[:table] + b"\x11" * 8 + data[table:])
    with pytest.raises(PhotoError, match="damaged"):
        read(tmp_path / "photo")


def test_bytes_too_many_before_a_restart_marker_are_damage(whole, tmp_path):
    data, intact = whole["jpeg-restarts"]
    at = data.index(b"\xff\xd3")
    (tmp_path / "photo").write_bytes(data[:at] + b"\xff\xff" + data[at:])  # fill [ITU-T T.81, B.1.1.2]
    assert wrong_share(intact, read(tmp_path / "photo", about_pixels=ABOUT)) == 0
    (tmp_path / "photo").write_bytes(data[:at] + b"\x5a\x13\x77" + data[at:])
    with pytest.raises(PhotoError, match="damaged"):
        read(tmp_path / "photo")


def test_a_jpeg_of_hundreds_of_passes_is_refused(tmp_path):
    stream = io.BytesIO()
    Image.new("RGB", (64, 64)).save(stream, "JPEG", progressive=True)
    data = stream.getvalue()
    last = data.rindex(b"\xff\xda")
    (tmp_path / "photo").write_bytes(data[:last] + data[last:-2] * 80 + data[-2:])
    with pytest.raises(PhotoError, match="too many passes"):
        read(tmp_path / "photo")


def test_a_sector_missing_from_raw_pixels_is_left_out_and_told(whole, tmp_path):
    data, _ = whole["tiff"]
    (tmp_path / "photo").write_bytes(holed(data, 200_000))
    photo = read(tmp_path / "photo")
    assert any("missing" in note for note in photo.notes)
    assert 150 <= np.count_nonzero(~photo.opaque) <= 172


def test_black_things_are_not_missing(outfit):
    drawn = outfit.copy()
    drawn[100:180, 200:400] = 0  # a box
    drawn[300] = 0  # a line from edge to edge
    cv2.circle(drawn, (320, 400), 60, (0, 0, 0), -1)
    assert not damage.missing(drawn).any()


@pytest.mark.parametrize("stated", [9, 10, 15])
def test_a_grey_heic_that_states_other_bits_than_it_holds_is_refused(tmp_path, stated):
    # libheif's binding writes past the end of its memory there and dies (found by benchmarks.fuzz).
    whole = bytearray((HEIC / "grey.heic").read_bytes())
    heic_check.check_depth(bytes(whole))
    whole[whole.index(b"hvcC") + 4 + 17] = 0xF8 | stated - 8  # ISO/IEC 14496-15, 8.3.3.1.2
    (tmp_path / "photo").write_bytes(whole)
    with pytest.raises(PhotoError, match="damaged"):
        read(tmp_path / "photo")


@pytest.mark.parametrize("path", [*HEIC.glob("*.heic"), SAMPLES / "harbour-tiles.heic"], ids=lambda p: p.stem)
def test_whole_heics_state_the_bits_they_hold(path):
    heic_check.check_depth(path.read_bytes())
