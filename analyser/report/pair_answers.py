"""Pairs and colourways as the JSON objects of the command line."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.colour.difference import delta_e_2000
from analyser.colourway.collection import Collection
from analyser.phrases import designs, matches, reckoning
from analyser.phrases import pairs as says
from analyser.report import counts
from analyser.report.answers import Answer, colour_fields, head, matches_fields, palette_answer
from analyser.report.list_answers import stock_notes

if TYPE_CHECKING:
    from analyser.colourway.companions import ThreadShows
    from analyser.colourway.design import Colourway
    from analyser.colourway.measures import Measures
    from analyser.colourway.palette import PaletteColour
    from analyser.colourway.reasons import Reason
    from analyser.colourway.worn_on import Worn
    from analyser.stock.bead import Bead
    from analyser.stock.colour_text import GivenColour
    from analyser.stock.stock import Stock


def measures_fields(measures: Measures) -> Answer:
    """A judged pair without its beads: the figures of PAIR in the schema."""
    far = colour_fields(measures.far_lab)
    return {
        "accent_lab": list(measures.accent_lab),
        "body_lab": list(measures.body_lab),
        "de00": measures.de00,
        "delta_l": measures.delta_l,
        "luminance_contrast": measures.luminance_contrast,
        "seen_contrast": {f"{distance:g}": value for distance, value in measures.seen.items()},
        "reads_to_m": measures.reads_to_m,
        "blurs_from_m": measures.blurs_from_m,
        "far_hex": far["hex"],
        "far_lab": far["lab"],
        "cvd_de00": dict(measures.cvd_de00),
        "harmony": measures.harmony,
        "lights_de00": dict(measures.lights_de00),
    }


def pair_fields(result: Colourway, index: int) -> Answer:
    """PAIR of the schema, with what goes with it."""
    pair, company = result.pairs[index], result.company[index]
    worn = result.worn[index] if result.worn else None
    return {
        "accent": pair.accent.id,
        "body": pair.body.id,
        "beads": {role: bead_fields(bead) for role, bead in pair.beads.items()},
        **measures_fields(pair.measures),
        "stands_for": dict(pair.stands_for),
        "fit_de00": dict(pair.fit_de00),
        "far_fit": far_fit(pair.measures, result.palette.colours),
        "needs": None if pair.needs is None else dict(pair.needs),
        "enough": pair.enough,
        "marks": dict(pair.scores),
        "title": says.title([bead.name for bead in pair.beads.values()]),
        "says": says.line(pair, worn),
        **reasons_fields(pair.reasons),
        "company": {
            "third": bead_fields(company.third) if company.third else None,
            "end_bead": bead_fields(company.end_bead) if company.end_bead else None,
            "metal": company.metal,
            "thread_hex": company.thread_hex,
            "says": list(says.company(company, result.palette.colours).values()),
        },
        "worn_on": None if worn is None else worn_fields(worn),
        "thread": says.thread(result.threads[index]) if result.threads else None,
        "count": None if result.count is None else counts.count_fields(result.count),
    }


def reasons_fields(reasons: Sequence[Reason]) -> Answer:
    """``reasons`` as texts, and ``why``: each with its kind and, where it has one, its role."""
    texts = [says.reason(reason) for reason in reasons]
    return {
        "reasons": texts,
        "why": [
            {"kind": reason.kind, "role": getattr(reason, "role", None), "says": text}
            for reason, text in zip(reasons, texts, strict=True)
        ],
    }


def worn_fields(worn: Worn) -> Answer:
    """How a pair goes with what it is worn on."""
    return {**dataclasses.asdict(worn), "says": says.worn(worn)}


def far_fit(measures: Measures, colours: Sequence[PaletteColour]) -> Answer:
    """The palette colour nearest to the one colour that a pair blurs to, and how near it comes."""
    off = delta_e_2000(np.array([colour.lab for colour in colours]), measures.far_lab)
    nearest = int(np.argmin(off))
    return {"colour": nearest, "name": colours[nearest].name, "de00": float(off[nearest])}


def bead_fields(bead: Bead) -> Answer:
    """One lot of one bead, as a page or a program shows it."""
    colour = colour_fields(bead.lab) if bead.lab is not None else {"hex": None, "in_srgb": None, "lab": None}
    return {
        "id": bead.id,
        "name": bead.name,
        **colour,
        "size": bead.size,
        "shape": bead.shape,
        "finish": bead.finish,
        "lot": bead.lot or None,
        "quantity": None if bead.quantity is None else str(bead.quantity),
    }


def colourway_answer(
    result: Colourway, stock: Stock, options: Mapping[str, Any], report: str | None
) -> Answer:
    """The answer of ``analyser colourway``."""
    base = palette_answer(result.palette, options)
    return {
        **base,
        "matches": matches_fields(result.matching),
        "pairs": [pair_fields(result, index) for index in range(len(result.pairs))],
        "mixes": [
            {
                "colour": index,
                "beads": [bead_fields(mix.one), bead_fields(mix.two)],
                **colour_fields(mix.lab),
                "de00": mix.de00,
                "blends_from_m": mix.blends_from_m,
                "blurs_from_m": mix.blurs_from_m,
                "says": says.mix(mix),
            }
            for index, mix in result.mixes.items()
        ],
        "together": next(
            (designs.remark(one) for one in result.remarks if isinstance(one, Collection)), None
        ),
        "report": report,
        "notes": [*base["notes"], *stock_notes(stock), *_remarks(result)],
    }


def _remarks(result: Colourway) -> list[str]:
    """What was left out, what the pairs were chosen by, what to mind about the count."""
    counted = () if result.count is None else reckoning.doubts(result.count)
    left_out = [matches.left_out(one) for one in result.matching.left_out]
    return [*left_out, *(designs.remark(one) for one in result.remarks), *counted]


def given_fields(given: GivenColour) -> Answer:
    """A bead, or a colour that was given instead of one."""
    if given.bead is not None:
        return bead_fields(given.bead)
    return {"id": None, "name": given.text, **colour_fields(given.lab)}


def contrast_answer(
    measures: Measures,
    given: Mapping[str, GivenColour],
    unnamed: Sequence[str],
    reasons: Sequence[Reason],
    options: Mapping[str, Any],
    ground: Worn | None = None,
    thread: ThreadShows | None = None,
) -> Answer:
    """The answer of ``analyser contrast``, of what is given for each role; ``unnamed`` are roles without."""
    named = {role: one.bead.id if one.bead else None for role, one in given.items()}
    more = says.unnamed(unnamed)
    return {
        **head(options),
        "pair": {
            "accent": named["accent"],
            "body": named["body"],
            "beads": {role: given_fields(one) for role, one in given.items()},
            **measures_fields(measures),
            "worn_on": None if ground is None else worn_fields(ground),
            "thread": None if thread is None else says.thread(thread),
            **reasons_fields(reasons),
        },
        "notes": [more] if more else [],
    }
