"""A kept colourway woven again: from the list as it is now, in any length."""

from __future__ import annotations

import dataclasses
import datetime

import pytest

from analyser.errors import OptionError
from analyser.piece import counting, kept_pieces
from analyser.piece.gauge import Gauge
from analyser.piece.kept import KeptBead, KeptColourway, KeptError
from analyser.stock.list import stock_list

QUAY = KeptColourway(
    name="Quay", made_on=datetime.date(2026, 5, 4), motif="chenille", size="11/0", shape="round",
    length_mm=180.0, gauge="26 rounds in 5cm",
    beads={
        "accent": KeptBead("coral", "Coral", "", "11/0", "round", None, (60.0, 45.0, 30.0), 1),
        "body": KeptBead("teal", "Teal", "old", "11/0", "round", None, (36.0, -12.0, -8.0), 1),
        "third": KeptBead("sand", "Sand", "", "11/0", "round", None, (80.0, 1.0, 9.0), None),
        "end": KeptBead("pearl", "Pearl", "", "6mm", "large", None, (90.0, 1.0, 5.0), 2),
    },
    palette=(), photo="scarf.jpg", sha256="ab" * 32, state="sold",
)  # fmt: skip


@pytest.fixture
def stock(tmp_path):
    path = tmp_path / "beads.csv"
    path.write_text(
        "id,name,size,shape,hex,quantity,unit,lot\n"
        "coral,Coral,11/0,round,#d06040,900,beads,\n"
        "coral,Coral,8/0,round,#d06040,900,beads,\n"
        "teal,Teal,11/0,round,#206070,100,beads,old\n"
        "teal,Teal,11/0,round,#206070,3000,beads,new\n"
        "pearl,Pearl,6mm,large,#f0e8e0,10,beads,\n",
        encoding="utf-8",
    )
    return stock_list.read(path)


def test_it_is_counted_as_the_count_counts_it(stock):
    made = kept_pieces.counted(QUAY, stock)
    plain = counting.count(
        made.count.motif, length_mm=180.0, size="11/0", gauge=Gauge.parse("26 rounds in 5cm"), end_mm=6.0
    )
    assert made.count.with_spare == plain.with_spare
    assert made.count.taken["end"] == 2
    assert made.count.stock["body"].bead.lot == "new"  # the lot that holds enough now
    assert set(made.stock) == {"accent", "body", "end"}  # the motif weaves no third


def test_another_length_is_another_idea(stock):
    made = kept_pieces.counted(QUAY, stock, length_mm=450.0)
    necklace = kept_pieces.in_length(QUAY, made, " Quay  necklace ", datetime.date(2026, 6, 1))
    assert (necklace.name, necklace.state, necklace.length_mm) == ("Quay necklace", "idea", 450.0)
    assert necklace.beads["accent"].needs == made.count.with_spare["accent"]
    assert necklace.beads["end"].needs == 2
    assert necklace.beads["third"] == QUAY.beads["third"]
    assert necklace.made_on == datetime.date(2026, 6, 1)
    assert kept_pieces.counted(QUAY, stock, body_mm=400.0).count.lengths.finished_mm > 400.0


def test_what_is_not_there_any_more_is_told(stock):
    gone = dataclasses.replace(
        QUAY, beads={**QUAY.beads, "body": dataclasses.replace(QUAY.beads["body"], id="x")}
    )
    with pytest.raises(KeptError, match=r"Quay: .* no bead 'x@11/0'"):
        kept_pieces.counted(gone, stock)
    with pytest.raises(KeptError, match="Quay: there is no motif 'mine'"):
        kept_pieces.counted(dataclasses.replace(QUAY, motif="mine"), stock)
    with pytest.raises(OptionError, match="without a length"):
        kept_pieces.counted(dataclasses.replace(QUAY, length_mm=None), stock)
