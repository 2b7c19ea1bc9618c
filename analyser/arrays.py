"""The kinds of arrays, and the one colour, that every room speaks of.

Shapes and units are told by the names of the values (``lab``, ``linear_rgb``, ``width_px``); these say only
what an element is. Floating width is left open: pictures are float32, colours float64. They are kinds for
readers and type checkers: naming one does not import NumPy.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    FloatArray = npt.NDArray[np.floating]
    BoolArray = npt.NDArray[np.bool_]
    IntArray = npt.NDArray[np.intp]
else:
    FloatArray = BoolArray = IntArray = Any
Lab = tuple[float, float, float]
"""CIE 1976 L*a*b* (D65, 2 degree observer) of one colour."""
