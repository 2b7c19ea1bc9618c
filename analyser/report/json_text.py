"""An answer as JSON text: ten significant digits, the same on every machine.

The last bits of a sum depend on the release of Python and of its libraries (3.12 sums floats in another
way): up to 3 parts in 10^13, as measured between 3.11 and 3.13. They are rounded away once, here, where an
answer leaves.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

DIGITS = 10


def json_text(answer: Mapping[str, Any]) -> str:
    r"""The answer as JSON.

    Raises
    ------
    ValueError
        If a number is not finite, which is a programming mistake.

    Examples
    --------
    >>> print(json_text({"lab": [45.603445613911425], "name": "grün"}).replace("\n", ""))
    { "lab": [  45.60344561 ], "name": "grün"}
    """
    return json.dumps(in_digits(answer), ensure_ascii=False, allow_nan=False, indent=1)


def in_digits(value: Any) -> Any:
    """A plain value with its numbers in that many significant digits."""
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}")
    if isinstance(value, Mapping):
        return {key: in_digits(one) for key, one in value.items()}
    return [in_digits(one) for one in value] if isinstance(value, list | tuple) else value
