"""A maker's usual gauges, as they are typed on the page."""

from __future__ import annotations

import contextlib
from typing import Any

from fastapi import APIRouter, Request

from analyser.errors import StockError
from analyser.piece.gauge import Gauge, keep
from analyser.piece.request import gauge_keys, kinds_of
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.list import agreed
from analyser.web.common import AppState, state_of
from analyser.web.job_cache import known_motif
from analyser.web.wishes import TypedGauge

router = APIRouter(prefix="/api/gauges", tags=["gauges"])


@router.post("")
def keep_typed(request: Request, told: TypedGauge) -> dict[str, Any]:
    """Keep a gauge that was typed beside the list, for its motif and bead, as ``count --keep-gauge`` does."""
    state = state_of(request)
    motif, gauge = known_motif(told.motif, state.stock_file), Gauge.parse(told.gauge)
    kinds = kinds_of(told.bead.split(","), told.shape) if told.bead else {}
    size = units.size(told.size) if told.size else None
    key = gauge_keys(motif, size, told.shape, kinds, _lots(state, told))[0]
    file = agreed.file_of(state.stock_file)
    keep(file, key, gauge)
    return {"file": file.name, "key": key, "gauge": str(gauge)}


def _lots(state: AppState, told: TypedGauge) -> dict[str, tuple[Bead, ...]]:
    """The lots of the roles whose bead is named; what names a colour is no bead of the list."""
    found: dict[str, tuple[Bead, ...]] = {}
    if not state.drawer.path.exists():
        return found
    held = state.drawer.held()[1]
    for role, text in (("accent", told.accent), ("body", told.body), ("third", told.third)):
        with contextlib.suppress(StockError):
            found |= {role: held.lots(text)} if text else {}
    return found
