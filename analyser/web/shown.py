"""Answers as the page shows them: the JSON of the verbs, with CSS colours, bars and sentences beside it."""

from __future__ import annotations

from dataclasses import asdict
from functools import lru_cache
from typing import Any

from analyser.arrays import Lab
from analyser.drawing.leaders import Leader, leaders
from analyser.drawing.reference_view import name_boxes
from analyser.photo.calibration import Calibration
from analyser.phrases import bars as pair_bars
from analyser.phrases import sentences
from analyser.report import embedding

Answer = dict[str, Any]


@lru_cache(maxsize=4096)
def css_of(lab: Lab) -> tuple[str, ...]:
    """CSS values of a colour, the plainest first; a browser takes the last it understands."""
    return embedding.css_colours(lab)


def dressed(answer: Answer, calibration: Calibration | None = None) -> Answer:
    """The answer with ``css`` beside every ``lab``, the palette's leaders, each pair's bars and sentences.

    With the photo's calibration no leader runs over a name in its picture.
    """
    shown: Answer = _copied(answer)
    add_css(shown)
    for pair in shown.get("pairs", [shown["pair"]] if "pair" in shown else []):
        pair["bars"] = [{"name": b.name, "part": b.part, "says": b.says} for b in pair_bars.bars(pair)]
        pair["figures"] = pair_bars.figures(pair)
        pair["far_css"] = css_of(tuple(pair["far_lab"]))
        pair["sentences"] = [sentences.sentence([reason]) for reason in pair["reasons"]]
    if "colours" in shown and "photo" in shown:
        shown["leaders"] = [asdict(leader) for leader in _leaders(shown, calibration)]
    for thing in shown.get("unjudged", []):
        thing["sentence"] = sentences.sentence([thing["says"]])
    for piece in shown.get("pieces", []):
        for finding in piece["findings"]:
            finding["sentence"] = sentences.sentence([finding["says"]])
        for against in piece["stock"]:
            against["sentence"] = sentences.sentence([against["says"]])
    return shown


def _leaders(answer: Answer, calibration: Calibration | None) -> list[Leader]:
    width, height = answer["photo"]["width"], answer["photo"]["height"]
    spots = [(c["pixel"][0] + 0.5, c["pixel"][1] + 0.5) for c in answer["colours"]]
    names = [] if calibration is None else name_boxes(calibration, (height, width))
    return leaders([(100.0 * x / width, 100.0 * y / height) for x, y in spots], width / height, names)


def add_css(part: Any) -> None:
    """Put ``css`` beside every ``lab`` within the value."""
    if isinstance(part, dict):
        lab = part.get("lab")
        if isinstance(lab, list) and len(lab) == 3:
            part["css"] = css_of((lab[0], lab[1], lab[2]))
        for value in part.values():
            add_css(value)
    elif isinstance(part, list):
        for value in part:
            add_css(value)


def _copied(part: Any) -> Any:
    """A copy of plain values: quicker than ``deepcopy``, which minds values that hold themselves."""
    if isinstance(part, dict):
        return {key: _copied(value) for key, value in part.items()}
    return [_copied(value) for value in part] if isinstance(part, list | tuple) else part
