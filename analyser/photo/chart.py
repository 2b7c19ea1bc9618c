"""The correction that a 24-patch chart supports, and how far it can be trusted.

Camera numbers are turned back into the light of the patches in three steps, each only as flexible as
the chart can tell: a gain per channel, a tone curve, and a mixing of the channels (none, 3 x 3,
or root-polynomial of degree 2 [1], which like light itself scales with exposure). All are fitted to least
CIEDE2000, held to the plain white balance by a weak prior, and the one is kept that predicts left-out
patches best.

Sources
-------
[1] Finlayson, Mackiewicz, Hurlbert (2015), IEEE Trans. Image Process. 24(5), 1460-1470,
    doi:10.1109/TIP.2015.2405336.
[2] ``data/chart24.csv``: McCamy, Marcus, Davidson (1976), J. Appl. Photogr. Eng. 2(3), 95-99
    (``first``), and the values its maker published for the ``older`` and the ``newer`` printing, brought to
    D65 by Bradford adaptation.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab

Tone = Literal["none", "exponent", "curve", "curve per channel"]
Mixing = Literal["white balance", "matrix", "root-polynomial"]

GREYS = slice(18, 24)  # patches 19 to 24

_AT_A_TIME = 30_000  # pixels corrected at a time: what lies between then stays in the processor's cache

# Parameters of each step, and the spread expected of each (the prior's standard deviation): camera curves
# bend by tenths, channels differ in curve by less, and mixing shifts a third of a channel at the most.
_TONE_SPREAD: Mapping[Tone, tuple[float, ...]] = {
    "none": (),
    "exponent": (0.3,),
    "curve": (0.3, 0.3),
    "curve per channel": (0.3, 0.3, *(0.1,) * 6),
}
_MIXING_SPREAD: Mapping[Mixing, tuple[float, ...]] = {
    "white balance": (0.3,) * 3,
    "matrix": (0.3,) * 9,
    "root-polynomial": (0.3,) * 18,
}
_SIMPLER_MAY_LOSE = 1.05  # a simpler fit is kept if its left-out error is at most this much larger
_HUBER_DE00 = 2.0  # residuals above this many times the median count less: a shaded or glaring patch


@dataclass(frozen=True, slots=True, eq=False)
class Correction:
    """Linear camera light to linear sRGB of the surface.

    Attributes
    ----------
    gain : ndarray, shape (3,)
        Brings the chart's greys to their reflectance.
    curve : ndarray, shape (2, 3)
        Per channel ``log y = (1 + curve[0]) log x + curve[1] (log x)^2``; zeros leave it straight.
    log_range : tuple of 2 float
        Where the chart tells the curve; beyond it goes on as a power.
    mixing : ndarray, shape (3, 3) or (3, 6)
        Of the channels, or of the channels and their root products rg, gb, rb [1].
    """

    gain: FloatArray
    curve: FloatArray
    log_range: tuple[float, float]
    mixing: FloatArray

    def apply(self, linear: FloatArray) -> npt.NDArray[np.float32]:
        """Corrected light, shape (..., 3) in and out, float32."""
        given = np.asarray(linear, np.float32)
        flat, corrected = given.reshape(-1, 3), np.empty((given.size // 3, 3), np.float32)
        for start in range(0, len(flat), _AT_A_TIME):
            part = slice(start, start + _AT_A_TIME)
            corrected[part] = self._applied(flat[part])
        return corrected.reshape(given.shape)

    def _applied(self, linear: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
        count = len(linear)
        # a gain for each number: over an axis of three NumPy takes several times as long
        light = (linear.reshape(-1) * np.tile(self.gain.astype(np.float32), count)).reshape(count, 3)
        if self.curve.any():
            size = np.maximum(np.abs(light), np.float32(1e-7))
            light = np.copysign(
                np.exp(_bent(np.log(size), self.curve.astype(np.float32), self.log_range)), light
            )
        if np.array_equal(self.mixing, np.eye(3)):
            return light
        terms = _terms(light) if self.mixing.shape[1] == 6 else light
        mixed: npt.NDArray[np.float32] = np.matmul(terms, self.mixing.T.astype(np.float32))
        return mixed


@dataclass(frozen=True, slots=True, eq=False)
class ChartFit:
    """A correction fitted to a chart, with the proof of it.

    Attributes
    ----------
    correction : Correction
    edition : str
        Of the chart's published values, as fits best: ``"first"``, ``"older"`` or ``"newer"``.
    tone, mixing : str
        What was fitted.
    residual_de00 : ndarray, shape (24,)
        CIEDE2000 of the fitted patches.
    left_out_de00 : ndarray, shape (24,)
        CIEDE2000 of each patch when the fit has not seen it.
    used : bool ndarray, shape (24,)
        False for clipped patches.
    """

    correction: Correction
    edition: str
    tone: Tone
    mixing: Mixing
    residual_de00: FloatArray
    left_out_de00: FloatArray
    used: BoolArray


@cache
def editions() -> Mapping[str, FloatArray]:
    """Published Lab (D65, 2 degree) of the 24 patches, shape (24, 3), by edition [2]."""
    labs: dict[str, list[list[float]]] = {}
    with (Path(__file__).with_name("data") / "chart24.csv").open(encoding="utf-8") as table:
        for row in csv.DictReader(table):
            labs.setdefault(row["edition"], []).append([float(row[f"{axis}_D65"]) for axis in "Lab"])
    return {edition: np.array(lab) for edition, lab in labs.items()}


def fit(linear: FloatArray, used: BoolArray, *, fewest: int = 12) -> ChartFit:
    """The correction that predicts left-out patches best.

    Parameters
    ----------
    linear : array, shape (24, 3)
        Mean linear light of the patches in the photo.
    used : bool array, shape (24,)
        False leaves a patch out, because it is clipped.
    fewest : int
        Patches without which no fit is tried.

    Raises
    ------
    ValueError
        If too few patches or no grey one can be used.
    """
    greys = np.flatnonzero(used[GREYS]) + GREYS.start
    if used.sum() < fewest or not len(greys):
        raise ValueError(f"a fit needs {fewest} patches and a grey one; {int(used.sum())} can be used")
    trials = [_tried(linear, used, edition, "curve", "matrix") for edition in editions()]
    trials += [_tried(linear, used, edition, "none", "white balance") for edition in editions()]
    edition = min(trials, key=_left_out).edition
    every = [_tried(linear, used, edition, tone, mixing) for tone, mixing in _steps()]
    bar = _SIMPLER_MAY_LOSE * min(map(_left_out, every))
    return next(trial for trial in every if _left_out(trial) <= bar)


def _steps() -> Iterator[tuple[Tone, Mixing]]:
    """Every way to fit, the ones of fewest parameters first."""
    ways = [(tone, mixing) for tone in _TONE_SPREAD for mixing in _MIXING_SPREAD]
    yield from sorted(ways, key=lambda way: len(_TONE_SPREAD[way[0]]) + len(_MIXING_SPREAD[way[1]]))


def _left_out(trial: ChartFit) -> float:
    return float(trial.left_out_de00[trial.used].mean())


def _bent(log_light: FloatArray, curve: FloatArray, log_range: tuple[float, float]) -> FloatArray:
    """The tone curve on logs, (..., 3), going on straight beyond the range that the chart tells."""
    inside = np.clip(log_light, *log_range)
    slope = np.clip(1 + curve[..., 0, :] + 2 * curve[..., 1, :] * inside, 0.4, 2.5)
    bent: FloatArray = inside * (1 + curve[..., 0, :] + curve[..., 1, :] * inside) + slope * (
        log_light - inside
    )
    return bent


def _terms(light: FloatArray) -> FloatArray:
    roots = np.sqrt(np.maximum(light, 0))
    products = roots * np.roll(roots, -1, axis=-1)  # rg, gb, br
    return np.concatenate([light, products], axis=-1)


class _Model:
    """Prediction of patches from parameters; the parameters may have leading axes."""

    def __init__(self, linear: FloatArray, gain: FloatArray, tone: Tone, mixing: Mixing) -> None:
        self.light = linear * gain
        self.logs = np.log(np.maximum(self.light, 1e-5))
        self.log_range = float(self.logs.min()), float(self.logs.max())
        self.tone, self.mixing = tone, mixing
        self.bends = len(_TONE_SPREAD[tone])
        self.spread = np.array(_TONE_SPREAD[tone] + _MIXING_SPREAD[mixing])

    def curve(self, parameters: FloatArray) -> FloatArray:
        """Shape (..., 2, 3)."""
        lead = parameters.shape[:-1]
        curve = np.zeros((*lead, 2, 3))
        if self.bends:
            curve[..., 0, :] = parameters[..., 0:1]
        if self.bends >= 2:
            curve[..., 1, :] = parameters[..., 1:2]
        if self.bends == 8:
            curve += parameters[..., 2:8].reshape(*lead, 2, 3)
        return curve

    def matrix(self, parameters: FloatArray) -> FloatArray:
        """Shape (..., 3, 3) or (..., 3, 6): what the parameters add to the identity."""
        mixing = parameters[..., self.bends :]
        lead = parameters.shape[:-1]
        if self.mixing == "white balance":
            return np.eye(3) * (1 + mixing[..., None, :])
        return np.eye(3, mixing.shape[-1] // 3) + mixing.reshape(*lead, 3, -1)

    def predicted(self, parameters: FloatArray) -> FloatArray:
        """Linear light of the patches, shape (..., 24, 3)."""
        light = self.light
        if self.bends:
            light = np.exp(_bent(self.logs, self.curve(parameters)[..., None, :, :], self.log_range))
        terms = _terms(light) if self.mixing == "root-polynomial" else light
        return terms @ np.swapaxes(self.matrix(parameters), -1, -2)


def _tried(linear: FloatArray, used: BoolArray, edition: str, tone: Tone, mixing: Mixing) -> ChartFit:
    """One way of fitting, by Gauss-Newton on the local CIEDE2000 of each patch."""
    lab = editions()[edition]
    greys = np.flatnonzero(used[GREYS]) + GREYS.start
    ratio = np.maximum(lab_to_linear(lab)[greys], 1e-4) / np.maximum(linear[greys], 1e-4)
    gain = np.exp(np.log(ratio).mean(axis=0))
    model = _Model(linear, gain, tone, mixing)
    roots = _metric_roots(edition)
    prior = 1 / model.spread**2

    def residuals(parameters: FloatArray) -> FloatArray:
        off = linear_to_lab(model.predicted(parameters)) - lab
        return np.asarray(np.einsum("nij,...nj->...ni", roots, off))

    parameters, weight = np.zeros(len(prior)), used.astype(float)
    damping = 1e-3
    for _ in range(12):
        now, slopes = _linearised(residuals, parameters)
        normal = np.einsum("n,pni,qni->pq", weight, slopes, slopes) + np.diag(prior)
        downhill = np.einsum("n,pni,ni->p", weight, slopes, now) + prior * parameters
        cost = _cost(now, weight) + (prior * parameters**2).sum()
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -downhill)
        then = residuals(parameters + step)
        gained = cost - _cost(then, weight) - (prior * (parameters + step) ** 2).sum()
        if gained <= 0:
            damping *= 10
            continue
        parameters, damping = parameters + step, damping / 5
        if gained < 1e-3 * cost:
            break
        size = np.sqrt((then**2).sum(axis=-1))
        weight = used * np.minimum(
            1, _HUBER_DE00 * max(float(np.median(size[used])), 0.3) / np.maximum(size, 1e-9)
        )
    now, slopes = _linearised(residuals, parameters)
    inverse = np.linalg.inv(np.einsum("n,pni,qni->pq", weight, slopes, slopes) + np.diag(prior))
    leverage = np.einsum("n,pni,pq,qnj->nij", weight, slopes, inverse, slopes)
    # the residual a patch would have had if left out, exact for a linear model
    left_out = np.linalg.solve(np.eye(3) * (1 + 1e-3) - leverage, now[..., None])[..., 0]
    return ChartFit(
        Correction(gain, model.curve(parameters), model.log_range, model.matrix(parameters)),
        edition,
        tone,
        mixing,
        delta_e_2000(linear_to_lab(model.predicted(parameters)), lab),
        np.sqrt((left_out**2).sum(axis=-1)),
        used,
    )


def _cost(residual: FloatArray, weight: FloatArray) -> float:
    return float((weight * (residual**2).sum(axis=-1)).sum())


def _linearised(
    residuals: Callable[[FloatArray], FloatArray], parameters: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Residuals (24, 3) and their slopes by parameter (p, 24, 3)."""
    step = 1e-4
    every = residuals(np.vstack([parameters, parameters + step * np.eye(len(parameters))]))
    return every[0], (every[1:] - every[0]) / step


@cache
def _metric_roots(edition: str) -> FloatArray:
    """Roots A, (24, 3, 3), with ``|A dlab|`` the CIEDE2000 of a small step from each patch."""
    lab = editions()[edition]
    step = 0.2
    axes = step * np.eye(3)
    pairs = axes[:, None] + axes[None, :]
    along = delta_e_2000(lab[:, None], lab[:, None] + axes) ** 2
    across = delta_e_2000(lab[:, None, None], lab[:, None, None] + pairs) ** 2
    form = (across - along[:, :, None] - along[:, None, :]) / (2 * step**2)
    form[:, range(3), range(3)] = along / step**2
    return np.swapaxes(np.linalg.cholesky(form), -1, -2)
