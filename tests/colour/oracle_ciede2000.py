"""CIEDE2000 equation by equation, one pair at a time: the oracle of the fast kernel.

Written from [1] as it stands there, with angles in degrees and nothing rearranged. Numbers in comments are
those of its equations.

Sources
-------
[1] Sharma, Wu, Dalal (2005), Color Res. Appl. 30(1), 21-30, doi:10.1002/col.20070.
"""

# ruff: noqa: N806 -- the names of the standard

from __future__ import annotations

from math import atan2, cos, degrees, exp, hypot, radians, sin, sqrt


def ciede2000(lab_1: tuple[float, float, float], lab_2: tuple[float, float, float]) -> float:
    """CIEDE2000 of one pair with kL = kC = kH = 1."""
    L_1, a_1, b_1 = lab_1
    L_2, a_2, b_2 = lab_2
    # step 1: C' and h'
    C_mean = (hypot(a_1, b_1) + hypot(a_2, b_2)) / 2  # 2, 3
    G = 0.5 * (1 - sqrt(C_mean**7 / (C_mean**7 + 25**7)))  # 4
    a_1_, a_2_ = (1 + G) * a_1, (1 + G) * a_2  # 5
    C_1_, C_2_ = hypot(a_1_, b_1), hypot(a_2_, b_2)  # 6
    h_1_, h_2_ = _hue(a_1_, b_1), _hue(a_2_, b_2)  # 7
    # step 2: differences
    delta_L = L_2 - L_1  # 8
    delta_C = C_2_ - C_1_  # 9
    delta_h = _hue_difference(h_1_, h_2_, C_1_ * C_2_)  # 10
    delta_H = 2 * sqrt(C_1_ * C_2_) * sin(radians(delta_h / 2))  # 11
    # step 3: weights and the difference
    L_ = (L_1 + L_2) / 2  # 12
    C_ = (C_1_ + C_2_) / 2  # 13
    h_ = _mean_hue(h_1_, h_2_, C_1_ * C_2_)  # 14
    T = (  # 15
        1
        - 0.17 * cos(radians(h_ - 30))
        + 0.24 * cos(radians(2 * h_))
        + 0.32 * cos(radians(3 * h_ + 6))
        - 0.20 * cos(radians(4 * h_ - 63))
    )
    delta_theta = 30 * exp(-(((h_ - 275) / 25) ** 2))  # 16
    R_C = 2 * sqrt(C_**7 / (C_**7 + 25**7))  # 17
    S_L = 1 + 0.015 * (L_ - 50) ** 2 / sqrt(20 + (L_ - 50) ** 2)  # 18
    S_C = 1 + 0.045 * C_  # 19
    S_H = 1 + 0.015 * C_ * T  # 20
    R_T = -sin(radians(2 * delta_theta)) * R_C  # 21
    squares = (delta_L / S_L) ** 2 + (delta_C / S_C) ** 2 + (delta_H / S_H) ** 2
    return sqrt(max(squares + R_T * (delta_C / S_C) * (delta_H / S_H), 0.0))  # 22


def _hue(a_: float, b: float) -> float:
    """Eq. 7: degrees in [0, 360); 0 where there is no chroma."""
    return degrees(atan2(b, a_)) % 360 if (a_, b) != (0, 0) else 0.0


def _hue_difference(h_1: float, h_2: float, chromas: float) -> float:
    """Eq. 10."""
    if chromas == 0:
        return 0.0
    if abs(h_2 - h_1) <= 180:
        return h_2 - h_1
    return h_2 - h_1 - 360 if h_2 > h_1 else h_2 - h_1 + 360


def _mean_hue(h_1: float, h_2: float, chromas: float) -> float:
    """Eq. 14."""
    if chromas == 0:
        return h_1 + h_2
    if abs(h_1 - h_2) <= 180:
        return (h_1 + h_2) / 2
    return (h_1 + h_2 + 360) / 2 if h_1 + h_2 < 360 else (h_1 + h_2 - 360) / 2
