"""Centrelines as polylines: length, even steps, smoothing, ends.

Pure functions on arrays of x, y, shape (n, 2).
"""

from __future__ import annotations

import numpy as np

from analyser.arrays import FloatArray


def smooth_course(values: FloatArray, radius: float) -> FloatArray:
    """Values at one-pixel steps along the rope, shape (n,) or (n, k), smoothed by local parabolas.

    Over a window of eight radii the loops of a spiral rope (under three radii long) average out, while a
    bend down to a bracelet's, eight radii, is followed within a hundredth of a radius. Savitzky and Golay
    (1964), Anal. Chem. 36(8) 1627-1639.
    """
    # scipy.signal has this filter, but importing it takes a second: a third of an audit.
    from scipy.ndimage import convolve1d

    window = min(round(8 * radius), len(values) - 1) // 2 * 2 + 1
    if window < 5:
        return values
    half = window // 2
    powers = np.vander(np.arange(-half, half + 1) / half, 3, increasing=True)
    fit = np.linalg.pinv(powers)  # values of a window to the coefficients of its parabola
    calm = convolve1d(np.asarray(values, float), fit[0], axis=0, mode="nearest")
    # The outermost half windows lie on the first and the last parabola.
    calm[:half] = powers[:half] @ (fit @ values[:window])
    calm[len(values) - half :] = powers[half + 1 :] @ (fit @ values[-window:])
    return np.asarray(calm)


def extend(line: FloatArray, steps: int) -> FloatArray:
    """The line with straight ends of ``steps`` points, at its own spacing, added."""
    reach = min(len(line) - 1, max(2, steps))
    spacing = length_of(line) / (len(line) - 1)
    parts = []
    for end, inner in ((line[0], line[reach]), (line[-1], line[-1 - reach])):
        direction = (end - inner) / max(np.hypot(*(end - inner)), 1e-9)
        parts.append(end + direction * spacing * np.arange(1, steps + 1)[:, None])
    return np.vstack([parts[0][::-1], line, parts[1]])


def length_of(line: FloatArray) -> float:
    """Length of a polyline, shape (n, 2)."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def resample(line: FloatArray, count: int) -> FloatArray:
    """The polyline at ``count`` points evenly spaced along it, shape (count, 2)."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = np.linspace(0, along[-1], count)
    return np.column_stack([np.interp(wanted, along, line[:, 0]), np.interp(wanted, along, line[:, 1])])


def from_first_end(line: FloatArray, frame_width: float) -> FloatArray:
    """Turned so that it starts at the end with smaller x, or within 5 % of the frame's width smaller y."""
    first, last = line[0], line[-1]
    if abs(first[0] - last[0]) <= 0.05 * frame_width:
        return line if first[1] <= last[1] else line[::-1]
    return line if first[0] < last[0] else line[::-1]
