"""The local rise of ropes whose rounds are set apart by a known factor (drawn, exact truth)."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.audit.slack import slack_stretches
from analyser.rope.repeats import Expected
from analyser.rope.rise import rise_along


def drawn(stretch: float, *, lines: bool = False) -> Expected:
    """A lattice of accents two beads apart, farther apart by ``stretch`` from 0.4 to 0.6 of the length."""
    length, across = 720, 35
    s = np.arange(length) / length
    phase = np.cumsum(np.where((s > 0.4) & (s < 0.6), 1 / stretch, 1.0)) / 16 * 2 * np.pi
    along = np.zeros(length) if lines else np.cos(phase)
    wave = along[None] + np.cos(np.arange(across) / 17 * 2 * np.pi)[:, None]
    role = np.clip(3 * (wave - 0.6), -1, 1)
    seen, flat = np.stack([-role, role]), np.ones((across, length))
    return Expected(
        seen, flat, seen, flat, 4 * flat, flat > 0, 0 * flat, np.arange(length), np.arange(across), 1.0,
        np.array([[16, 0]]), np.zeros((2, 2, length), int),
    )  # fmt: skip


def test_a_slack_stretch_is_found_with_its_place_and_size():
    (found,) = slack_stretches(rise_along(drawn(1.12)))
    assert found.ratio == pytest.approx(1.12, abs=0.02)
    assert (found.start, found.stop) == (pytest.approx(0.4, abs=0.03), pytest.approx(0.6, abs=0.03))
    assert found.confidence > 0.99


def test_an_even_rope_is_not_slack():
    rise = rise_along(drawn(1.0))
    assert rise is not None
    assert np.median(np.abs(rise.ratio - 1)) < 0.005
    assert slack_stretches(rise) == []


def test_lines_along_the_rope_tell_no_rise():
    assert rise_along(drawn(1.0, lines=True)) is None
