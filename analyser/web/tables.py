"""Answers as CSV for a spreadsheet; no cell of it runs as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from analyser.report.json_text import in_digits
from analyser.stock.list.table import harmless

Answer = Mapping[str, Any]


def colourway_csv(answer: Answer) -> str:
    """One row a pair: beads, measures, needs."""
    head = (
        "accent", "accent_name", "accent_hex", "body", "body_name", "body_hex", "de00", "delta_l",
        "luminance_contrast", "reads_to_m", "blurs_from_m", "far_hex", "protan_de00", "deutan_de00",
        "tritan_de00", "harmony",
        "accent_needs", "body_needs", "others", "enough",
    )  # fmt: skip
    rows = []
    for pair in answer["pairs"]:
        beads = [pair["beads"][role] for role in ("accent", "body")]
        named = [bead[field] for bead in beads for field in ("id", "name", "hex")]
        fields = ("de00", "delta_l", "luminance_contrast", "reads_to_m", "blurs_from_m", "far_hex")
        measures = [*(pair[field] for field in fields), *pair["cvd_de00"].values(), pair["harmony"]]
        needs = pair["needs"] or {}
        rows.append(
            [*named, *measures, needs.get("accent"), needs.get("body"), _others(pair, needs), pair["enough"]]
        )
    return _csv(head, rows)


def _others(pair: Mapping[str, Any], needs: Mapping[str, int]) -> str:
    """The beads of further letters with what they need: ``third: honey-jar 179``."""
    return "; ".join(
        " ".join(str(part) for part in (f"{role}:", bead["id"], needs.get(role)) if part is not None)
        for role, bead in pair["beads"].items()
        if role not in ("accent", "body")
    )


def audit_csv(answer: Answer) -> str:
    """One row a finding; a piece without findings has one row with its verdict."""
    head = ("photo", "verdict", "kind", "role", "at", "pixel_x", "pixel_y", "de00", "confidence", "says")
    rows: list[list[Any]] = []
    for piece in answer["pieces"]:
        start = [piece["photo"]["file"], piece["verdict"]]
        for f in piece["findings"]:
            place = [f["kind"], f["role"], f["at"], *f["pixel"]]
            rows.append([*start, *place, f.get("de00"), f["confidence"], f["says"]])
        if not piece["findings"]:
            rows.append([*start, *[None] * 8])
    return _csv(head, rows)


def _csv(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\r\n").writerow
    write(head)
    for row in rows:
        write(["" if v is None else harmless(v) if isinstance(v, str) else in_digits(v) for v in row])
    return out.getvalue()
