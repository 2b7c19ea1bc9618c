"""What a worker does with the photo sheet: drawing it, and learning the white of its paper."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from analyser.drawing import sheet
from analyser.photo import learning
from analyser.photo.sheet_layout import Kind, Paper, layout
from analyser.report import sheets
from analyser.stock import units
from analyser.web import shown
from analyser.web.job_cache import LIMIT_MP

_MAKE = {"pdf": sheet.pdf, "png": sheet.png}


def sheet_file(tell: Callable[..., None], kind: str, form: Kind, paper: Paper, name: str) -> bytes:
    """The sheet as ``analyser sheet`` writes it; ``kind`` is ``pdf`` or ``png``."""
    return _MAKE[kind](layout(form, paper, name))


def learn_paper(tell: Callable[..., None], path: str, scale_is: str | None) -> dict[str, Any]:
    """Remember a paper's white, as ``analyser sheet --learn`` does."""
    scale_mm = units.length_mm(scale_is) if scale_is else None
    learnt = learning.learn_from(Path(path), scale_mm=scale_mm, limit_mp=LIMIT_MP)
    answer = sheets.learnt_answer(
        learnt.name, learnt.white_linear, learnt.printed, Path(learnt.file.name), {"scale_is": scale_is}
    )
    return shown.dressed(answer)


JOBS = {function.__name__: function for function in (sheet_file, learn_paper)}
