"""What a photo sheet told of a rope, in words."""

from __future__ import annotations

from analyser.audit.on_sheet import RopeSize


def size(measured: RopeSize) -> str:
    """Length, thickness, bead and gauge in one line."""
    said = (
        f"On the sheet: {measured.length_mm / 10:.1f} cm long, {measured.thickness_mm:.1f} mm thick, "
        f"beads of about {measured.bead_mm:.1f} mm"
    )
    gauge = measured.gauge
    if gauge is None:
        return f"{said}. The gauge is told where the motif is named and its rounds can be seen."
    return f"{said}; gauge {gauge.rounds:.1f} ± {gauge.uncertainty:.1f} rounds in {gauge.in_mm / 10:g} cm."
