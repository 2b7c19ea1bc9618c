"""How colours come through to people with a colour vision deficiency.

A simulation on linear light, for a warning in plain words; it says nothing about any one person's eyes.
About one man in twelve and one woman in two hundred of European descent have such a deficiency, nearly
always of the red-green kind (protan, deutan).

Sources
-------
[1] Machado, Oliveira, Fernandes (2009), IEEE Trans. Vis. Comput. Graph. 15(6), 1291-1298,
    doi:10.1109/TVCG.2009.113: the matrices, for linear sRGB. The tritan ones are the authors'
    approximation and the least trusted.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab, triples

Kind = Literal["protan", "deutan", "tritan"]
KINDS: tuple[Kind, ...] = get_args(Kind)

_MATRICES = MappingProxyType(
    {
        ("protan", 0.5): (
            (0.458064, 0.679578, -0.137642),
            (0.092785, 0.846313, 0.060902),
            (-0.007494, -0.016807, 1.024301),
        ),
        ("protan", 1.0): (
            (0.152286, 1.052583, -0.204868),
            (0.114503, 0.786281, 0.099216),
            (-0.003882, -0.048116, 1.051998),
        ),
        ("deutan", 0.5): (
            (0.547494, 0.607765, -0.155259),
            (0.181692, 0.781742, 0.036566),
            (-0.010410, 0.027275, 0.983136),
        ),
        ("deutan", 1.0): (
            (0.367322, 0.860646, -0.227968),
            (0.280085, 0.672501, 0.047413),
            (-0.011820, 0.042940, 0.968881),
        ),
        ("tritan", 0.5): (
            (1.017277, 0.027029, -0.044306),
            (-0.006113, 0.958479, 0.047634),
            (0.006379, 0.248708, 0.744913),
        ),
        ("tritan", 1.0): (
            (1.255528, -0.076749, -0.178779),
            (-0.078411, 0.930809, 0.147602),
            (0.004733, 0.691367, 0.303900),
        ),
    }
)


def simulate(linear: npt.ArrayLike, kind: Kind, severity: float = 1.0) -> FloatArray:
    """Linear sRGB as it comes through to eyes with a deficiency [1].

    Parameters
    ----------
    linear : array_like, shape (..., 3)
    kind : str
        ``protan``, ``deutan`` or ``tritan``.
    severity : float
        1.0, or 0.5 for half.

    Returns
    -------
    ndarray, shape (..., 3)
        Not clipped: vivid colours may fall outside [0, 1].

    Raises
    ------
    ValueError
        If there is no matrix for that kind and severity.
    """
    light = triples(linear, "linear", "red, green, blue")
    if (kind, severity) not in _MATRICES:
        raise ValueError(f"kind must be one of {KINDS} and severity 0.5 or 1.0; got {kind!r}, {severity}")
    return np.asarray(light @ np.array(_MATRICES[kind, severity]).T, dtype=np.float64)


def de00_seen(lab_1: npt.ArrayLike, lab_2: npt.ArrayLike, severity: float = 1.0) -> dict[Kind, FloatArray]:
    """CIEDE2000 of pairs of colours as each kind of deficiency sees them.

    Parameters
    ----------
    lab_1, lab_2 : array_like, shape (..., 3)
        Lab (D65, 2 degree observer). Leading axes broadcast.
    severity : float
        1.0, or 0.5 for half.

    Returns
    -------
    dict from ``protan``, ``deutan``, ``tritan`` to ndarray, shape (...)
        Simulated colours are clipped to sRGB first, as the authors do.

    >>> red, green = [45, 50, 35], [46, -38, 35]
    >>> seen = de00_seen(red, green)
    >>> bool(seen["deutan"] < 0.25 * delta_e_2000(red, green))
    True
    """
    light_1, light_2 = lab_to_linear(lab_1), lab_to_linear(lab_2)
    seen: dict[Kind, FloatArray] = {}
    for kind in KINDS:
        one, two = (np.clip(simulate(light, kind, severity), 0.0, 1.0) for light in (light_1, light_2))
        seen[kind] = delta_e_2000(linear_to_lab(one), linear_to_lab(two))
    return seen
