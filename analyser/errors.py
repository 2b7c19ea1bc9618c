"""What a user can put right.

Everything here derives from ``AnalyserError``; its text is one line that names the thing, what was
expected and what was found. A programming mistake stays ``ValueError`` or ``TypeError``.
"""

from __future__ import annotations

_QUOTED_AT_MOST = 60


def quoted(text: str) -> str:
    """A word of the user's own in quotes, as a line can hold it.

    Examples
    --------
    >>> quoted("teal"), len(quoted("9" * 400))
    ("'teal'", 62)
    """
    return repr(text if len(text) <= _QUOTED_AT_MOST else text[: _QUOTED_AT_MOST - 1] + "…")


class AnalyserError(Exception):
    """Something the user can put right; the text says what and where.

    Attributes
    ----------
    kind : str
        A short word for programs, the ``kind`` of the JSON error object.
    """

    kind = "unusable"


class PhotoError(AnalyserError):
    """A photo cannot be read, or does not show what the job needs."""

    kind = "photo"


class CalibrationError(AnalyserError):
    """The asked-for chart, card or paper cannot be used in this photo."""

    kind = "calibration"


class StockError(AnalyserError):
    """A stock list cannot be used, or does not hold what was asked for."""

    kind = "stock"


class MotifError(AnalyserError):
    """A motif file has a fault, or there is no motif of that name.

    Attributes
    ----------
    line : int or None
        Of the file, where the fault has one.
    """

    kind = "motif"

    def __init__(self, says: str, line: int | None = None) -> None:
        super().__init__(says)
        self.line = line


class PlanError(AnalyserError):
    """A plan has a fault, or does not fit its motif."""

    kind = "plan"


class OptionError(AnalyserError):
    """A value given on the command line or in analyser.toml does not fit."""

    kind = "option"
