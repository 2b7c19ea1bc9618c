"""Figures with the digits that their doubt allows: one function for each quantity, for every answer."""

from __future__ import annotations


def difference(de00: float) -> str:
    """A colour difference or its doubt, CIEDE2000; a photo leaves it open by 1 to 10.

    >>> difference(0.84), difference(12.7)
    ('0.8', '13')
    """
    return f"{de00:.1f}" if de00 < 2.95 else f"{de00:.0f}"


def cost(amount: float) -> str:
    """What the beads of a piece cost; how many it takes is known to a tenth.

    >>> cost(2.432), cost(14.31), cost(116.0)
    ('2.4', '14', '116')
    """
    return f"{amount:.0f}" if amount >= 9.95 else f"{amount:.1f}" if amount >= 0.95 else f"{amount:.2f}"


def length(mm: float) -> str:
    """A length of cord or rope as it was given, in centimetres.

    >>> length(180.0), length(185.0), length(457.2)
    ('18 cm', '18.5 cm', '45.7 cm')
    """
    return f"{round(mm / 10, 1):g} cm"


def percent(share: float) -> str:
    """A share, with a decimal where it is small.

    >>> percent(0.0261), percent(0.1612)
    ('2.6 %', '16 %')
    """
    return f"{share * 100:.1f} %" if share < 0.0995 else f"{share * 100:.0f} %"


def metres(distance_m: float) -> str:
    """A distance with the digits that sight allows, which differs by a tenth and more from eye to eye.

    >>> metres(0.46), metres(2.34), metres(5.7), metres(46.1)
    ('about 0.5 m', 'about 2.5 m', 'about 6 m', 'beyond 10 m')
    """
    if distance_m > 10.0:
        return "beyond 10 m"
    step = 0.1 if distance_m < 1.0 else 0.5 if distance_m < 4.0 else 1.0
    return f"about {round(distance_m / step) * step:.2g} m"
