"""Pixels and files of linear light."""

from __future__ import annotations

import numpy as np

from analyser.colour import spaces
from analyser.imaging import encoding


def test_eight_bit_encoding_is_within_half_a_step():
    light = np.repeat(np.linspace(0.0, 1.0, 20001)[:, None], 3, axis=1)
    exact = spaces.linear_to_srgb(light) * 255.0
    # The table's own steps add at most the curve's slope at nought: 12.92 * 255 / 65535 / 2.
    assert np.max(np.abs(encoding.srgb_u8(light) - exact)) < 0.5 + 12.92 * 255 / 65535 / 2 + 1e-6


def test_the_profile_is_the_same_on_every_day():
    assert encoding.srgb_profile()[24:36] == bytes(12)


def test_pictures_are_made_smaller_in_linear_light():
    checks = (np.indices((40, 40)).sum(axis=0) % 2)[..., None].repeat(3, axis=2).astype(np.float32)
    small = encoding.picture_u8(checks, longest_px=20)
    # Half black, half white is 0.5 of the light, code 188 (IEC 61966-2-1), not 128.
    assert small.shape == (20, 20, 3)
    assert set(np.unique(small)) == {188}
