"""Numbers, lengths, sizes and quantities as makers write them."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from analyser.errors import OptionError
from analyser.stock import units
from analyser.stock.words import UnclearError


@pytest.mark.parametrize(
    ("text", "mm"),
    # The inch is 25.4 mm by definition (international yard and pound agreement, 1959).
    [
        ("7in", 177.8),
        ("7 1/2 in", 190.5),
        ('7"', 177.8),
        ("18cm", 180),
        ("18,5 cm", 185),
        ("5mm", 5),
        ("½ in", 12.7),
    ],
)
def test_lengths(text, mm):
    assert units.length_mm(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "text", ["7", "7 miles", "", "-3cm", "0cm", "1e400cm", "nan cm", "1,234 mm", "1e9 m"]
)
def test_what_is_no_length(text):
    with pytest.raises(OptionError):
        units.length_mm(text)


def test_a_length_beyond_any_piece_is_not_called_too_short():
    with pytest.raises(OptionError, match="is a kilometre or more"):
        units.length_mm("9999999cm")


@pytest.mark.parametrize(
    ("text", "size"),
    [("11/0", "11/0"), ("11", "11/0"), ("11o", "11/0"), ("11°", "11/0"), ("size 8/0", "8/0"), ("8-0", "8/0"),
     ("4mm", "4mm"), ("4,5 mm", "4.5mm"), ("6.0mm", "6mm")],
)  # fmt: skip
def test_sizes(text, size):
    assert units.size(text) == size


@pytest.mark.parametrize("text", ["4", "0/0", "99/0", "Nov 00", "01.11.2000", "2000-11-01", "big", "400mm"])
def test_what_is_no_size(text):
    with pytest.raises(UnclearError):
        units.size(text)


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("32 g", 32),
        ("32g", 32),
        ("0,5 kg", 500),
        ("1 oz", 28.349523125),
        ("~ 20 grams", 20),
        ("3 x 7.5 g", 22.5),
        ("3 tubes of 7,5 g", 22.5),
        ("1½ tubes of 10 g", 15),
        ("52.3 - 12.1 g", 40.2),
        ("52.3g gross, tare 12.1g", 40.2),
        ("2 hanks (40 g)", 80),
        ("none", 0),
        ("1 234 g", 1234),
        ("1'234.5 g", 1234.5),
    ],
)
def test_quantities_in_grams(text, grams):
    held = units.quantity(text)
    assert held is not None
    assert held.grams == pytest.approx(grams, abs=1e-9)


NO_QUANTITIES = [
    "-3 g",
    "1e400 g",
    "nan",
    "inf g",
    "12",
    "12 miles",
    "g",
    "3 g of 4 g",
    "5 - 6 g",
    "x",
    "=A1",
]


@pytest.mark.parametrize("text", NO_QUANTITIES)
def test_what_is_no_quantity(text):
    with pytest.raises(UnclearError):
        units.quantity(text)


@given(
    st.integers(0, 10**9 - 1),
    st.integers(0, 99),
    st.sampled_from([(",", "."), (".", ","), ("", "."), ("", ","), (" ", ",")]),
)
def test_a_number_reads_as_what_was_written(whole, cents, signs):
    group, decimal = signs
    text = f"{whole:,}".replace(",", group) + f"{decimal}{cents:02d}"
    assert units.number(text) == float(f"{whole}.{cents:02d}")


@given(st.text(max_size=12))
@example("~")
@example("ca. ?")
def test_any_text_is_read_or_refused(text):
    for read in (units.quantity, units.length_mm, units.size, units.number):
        with contextlib.suppress(UnclearError):
            assert read(text) is not None or text.strip().lower() in units.UNKNOWN
