"""How far a photo's colours can be trusted, and what would make them surer, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from analyser.phrases.figures import difference

if TYPE_CHECKING:
    from analyser.photo.calibration import Calibration

#: What the colours were read by.
_BY = {
    "sheet": "by the sheet in the photo",
    "chart": "by the chart in the photo",
    "white-card": "by the white card in the photo",
    "grey-card": "by the grey card in the photo",
    "paper": "by white paper, whose own tint is not known",
}
#: What would make them surer.
_MISSING = {
    "none": "a white and a grey card in it make this",
    "paper": "a white and a grey card make this",
    "sheet": "a white and a grey card on its frames make this",
    "white-card": "a grey card beside it makes this",
    "grey-card": "a white card beside it makes this",
}
#: What may lie in a photo and need an answer.
_TAKEN_FOR = {
    "white-card": "a white card",
    "grey-card": "a grey card",
    "cards": "a white card beside a grey one",
    "paper": "white paper",
}
#: What two cards leave open, CIEDE2000 (68 %); ``benchmarks/uncertainty.py``.
_TWO_CARDS_DE00 = 2.7


def doubt(calibration: Calibration, told_de00: Sequence[float] = ()) -> str:
    """How far the colours may be off, and the remedy: one line, said once an answer.

    ``told_de00`` are the doubts of the colours that the answer tells: their middle one is said, so that line
    and colours agree.
    """
    typical = calibration.uncertainty_de00
    if told_de00:  # their median; the module for it takes longer to import than a list is checked
        ordered, middle = sorted(told_de00), len(told_de00) // 2
        typical = (ordered[middle] + ordered[~middle]) / 2
    within = difference(typical)
    surer = round(typical / _TWO_CARDS_DE00)
    missing = _MISSING.get(calibration.method)
    remedy = f"; {missing} {surer} times surer" if missing and surer >= 2 else ""
    if calibration.method == "none":
        sure = "" if calibration.reference is None else " sure"
        return f"Colours may be off by {within}: nothing{sure} in the photo to go by{remedy}."
    by = "by the two cards in the photo" if len(calibration.outline) == 2 else _BY[calibration.method]
    return f"Colours are right to within {within}, {by}{remedy}."


def question(calibration: Calibration) -> tuple[str, ...]:
    """What the maker is asked about what may be a card or white paper; nothing where all is sure."""
    asked = calibration.reference
    if asked is None or asked.applied:
        return ()
    sure = f"{asked.sure:.0%} sure"
    if asked.kind == "paper":
        return (
            f"the ground may be white paper ({sure}) and was not used: add --calibration paper if it is, "
            "--no-card if not",
        )
    kind = "grey" if asked.kind == "grey-card" else "white"
    x, y, width, height = asked.box()
    return (
        f"a {kind} card may lie at {x + width // 2},{y + height // 2} ({sure}) and was not used: add "
        f"--card {x},{y},{width},{height}:{kind} if one does, --no-card if not",
    )


def about_card(calibration: Calibration) -> str:
    """What the page says of the outlined thing; empty where nothing was taken for a card or white paper."""
    seen = calibration.reference
    if seen is None or seen.kind not in _TAKEN_FOR:
        return ""
    name = _TAKEN_FOR[seen.kind]
    if seen.applied:
        return "" if seen.sure == 1 else f"Colours were corrected by {name}, outlined in the photo."
    return (
        f"Is it {name}, what is outlined in the photo? ({seen.sure:.0%} sure.) Until you say so, colours are "
        "left as the camera gave them."
    )
