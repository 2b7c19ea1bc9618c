"""The answer of ``analyser sheet`` as JSON; its shape is that of ``schemas/sheet.json``."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.colour.spaces import linear_to_lab
from analyser.report.answers import Answer, colour_fields, head

if TYPE_CHECKING:
    from analyser.photo.sheet_layout import Layout


def written_answer(layout: Layout, file: Path, options: Mapping[str, Any]) -> Answer:
    """A sheet was written."""
    written = {
        "file": str(file),
        "layout": layout.kind,
        "paper": layout.paper,
        "name": layout.name,
        "width_mm": layout.width,
        "height_mm": layout.height,
    }
    return {**head(options), "written": written, "learnt": None}


def learnt_answer(
    name: str,
    white_linear: tuple[float, float, float],
    printed: float,
    file: Path,
    options: Mapping[str, Any],
) -> Answer:
    """A paper's white was learnt, and how long its printed millimetres are."""
    lab = [float(value) for value in linear_to_lab(np.array(white_linear))]
    white = {"white_linear": list(white_linear), **colour_fields(lab)}
    learnt = {"name": name, **white, "printed": printed, "file": str(file)}
    return {**head(options), "written": None, "learnt": learnt}
