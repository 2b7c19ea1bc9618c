"""``--corrected FILE``: the calibrated photo, saved for the shop's page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from analyser.cli.output import remark

if TYPE_CHECKING:
    from analyser.photo.calibration import Calibration
    from analyser.photo.reading import Photo


def save_if_wanted(photo: Photo, calibration: Calibration, path: Path | None) -> None:
    """Save the corrected photo where ``--corrected`` asks for it, and say how true its colours are."""
    if path is None:
        return
    from analyser.photo.saving import save_corrected
    from analyser.phrases.figures import difference

    remark(save_corrected(photo, path))
    sure = difference(calibration.uncertainty_de00)
    remark(
        f"colours in {path} are right to within about {sure} CIEDE2000 for two in three: the beads may "
        "differ from the picture by that much"
    )
