"""``--corrected FILE``: the calibrated photo, saved for the shop's page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from analyser.cli.talking import remark

if TYPE_CHECKING:
    from analyser.photo.reading import Photo


def save_if_wanted(photo: Photo, path: Path | None) -> None:
    """Save the corrected photo where ``--corrected`` asks for it, and say what became of its colours."""
    if path is None:
        return
    from analyser.photo.saving import save_corrected

    remark(save_corrected(photo, path))
