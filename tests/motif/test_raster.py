"""The flat pattern as pixels: shares, size and period."""

import numpy as np
import pytest

from analyser.motif import parsing
from analyser.motif.raster import role_tile


@pytest.mark.parametrize("name", parsing.names())
def test_every_pixel_belongs_to_roles_that_sum_to_one(name):
    tile = role_tile(parsing.load(name).flat())
    np.testing.assert_allclose(tile.share.sum(axis=-1), 1.0, atol=1e-12)
    assert {"accent", "body"} <= set(tile.roles)
    assert all(share > 0.02 for share in tile.seen().values())


def test_the_pixels_are_the_same_for_beads_of_any_size():
    chenille = parsing.load("chenille")
    small, large = role_tile(chenille.flat((2.1, 1.5))), role_tile(chenille.flat((4.2, 3.0)))
    np.testing.assert_array_equal(small.share, large.share)
    np.testing.assert_allclose(np.array(large.mm_per_px), 2 * np.array(small.mm_per_px), rtol=1e-12)


def test_chenille_accents_cover_a_third_and_stand_half_a_stitch_apart():
    # Common practice, no source: a third of the beads; each half a stitch round from those below.
    tile = role_tile(parsing.load("chenille").flat())
    accent = tile.share[..., tile.roles.index("accent")]
    assert 0.28 < accent.mean() < 0.45
    height, width = accent.shape
    half_stitch_on = np.roll(accent, (height // 2, width // 6), axis=(0, 1))
    assert np.corrcoef(accent.ravel(), half_stitch_on.ravel())[0, 1] > 0.8
    assert np.corrcoef(accent.ravel(), np.roll(accent, height // 2, axis=0).ravel())[0, 1] < 0.2
