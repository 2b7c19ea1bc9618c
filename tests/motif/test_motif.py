"""Motifs: counts against hand-worked ones, geometry against the lattice that photos show."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.motif import parsing
from analyser.motif.motif import Motif

SHIPPED = parsing.names()
HAND_COUNTS = Path(__file__).parent.parent / "published" / "counts-by-hand.csv"


def rows() -> list[dict[str, str]]:
    with HAND_COUNTS.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


# Common practice, no source: counts worked out by hand from how each stitch is made.
@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['motif']}-{row['rounds']}")
def test_counts_match_those_worked_by_hand(row: dict[str, str]) -> None:
    made = parsing.load(row["motif"])
    counts = made.counts(int(row["rounds"]))
    assert sum(counts.values()) == int(row["all"])
    for role in ("accent", "body"):
        if row[role]:
            assert counts[role] == int(row[role])


@pytest.mark.parametrize("name", SHIPPED)
@settings(max_examples=25, deadline=None)  # for each of a dozen motifs
@given(rounds=st.integers(0, 60), more=st.integers(0, 60))
def test_counts_add_up_round_by_round(name: str, rounds: int, more: int) -> None:
    made = parsing.load(name)
    none, some, all_of_them = (sum(made.counts(n).values()) for n in (0, rounds, rounds + more))
    assert some >= none
    assert all_of_them - some == sum(
        len(letters)
        for number in range(rounds, rounds + more)
        for letters in made.rounds[number % len(made.rounds)].beads
    )


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("rounds", [0, 1, 2, 7, 30])
def test_the_laid_out_rope_holds_the_counted_beads(name: str, rounds: int) -> None:
    made = parsing.load(name)
    beads = made.rope(rounds)
    assert {role: beads.counts().get(role, 0) for role in made.roles} == made.counts(rounds)
    assert np.all((beads.angle_turns >= 0) & (beads.angle_turns < 1))
    np.testing.assert_allclose(np.linalg.norm(beads.hole_axis, axis=1), 1.0, atol=1e-12)
    assert set(beads.part) <= {"base", "pattern", "closing"}
    # A spiral ends one bead higher than a closed round.
    assert np.all(beads.along_beads < beads.length_beads + made.rise_beads)
    assert np.all(beads.along_beads > 0)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_motif_comes_back_after_its_repeat_and_not_before(name: str) -> None:
    made = parsing.load(name)
    beads = made.rope(2 * made.repeat_rounds)
    rise = made.rise_beads

    def rounds_from(first: int) -> set[tuple[str, float, float]]:
        chosen = (
            (beads.part == "pattern") & (beads.round > first) & (beads.round <= first + made.repeat_rounds)
        )
        angle = np.round(beads.angle_turns[chosen], 5) % 1.0
        along = np.round(beads.along_beads[chosen] - first * rise, 5)
        return set(zip(beads.role[chosen].tolist(), angle.tolist(), along.tolist(), strict=True))

    first = rounds_from(0)
    assert rounds_from(made.repeat_rounds) == first
    for sooner in range(len(made.rounds), made.repeat_rounds, len(made.rounds)):
        assert rounds_from(sooner) != first


def test_chenille_is_a_lattice_with_accents_half_a_stitch_round() -> None:
    """Accents of round n at 120 k + 60 (n mod 2) degrees, bodies at 30, 90 ... and half a rise lower."""
    beads = parsing.load("chenille").rope(6)
    rise = parsing.load("chenille").rise_beads
    for number in range(1, 7):
        here = (beads.round == number) & (beads.part == "pattern")
        accent, body = here & (beads.role == "accent"), here & (beads.role == "body")
        degrees = np.sort(beads.angle_turns[accent] * 360)
        np.testing.assert_allclose(degrees, np.array([0, 120, 240]) + 60 * (number % 2), atol=1e-9)
        np.testing.assert_allclose(np.sort(beads.angle_turns[body] * 360), np.arange(30, 360, 60), atol=1e-9)
        np.testing.assert_allclose(beads.along_beads[accent] - beads.along_beads[body][0], rise / 2)
    # Each accent inside the pattern lies between four body beads: 6 x 2 = 3 x 4 (common practice, no source).
    number = 3
    accents = np.flatnonzero((beads.round == number) & (beads.part == "pattern") & (beads.role == "accent"))
    bodies = np.flatnonzero((beads.part == "pattern") & (beads.role == "body"))
    for i in accents:
        around = np.abs((beads.angle_turns[bodies] - beads.angle_turns[i] + 0.5) % 1.0 - 0.5)
        along = np.abs(beads.along_beads[bodies] - beads.along_beads[i])
        assert np.sum((around < 0.09) & (along < 0.51 * rise)) == 4


def test_chenille_holes_lead_from_accent_to_accent() -> None:
    """A body bead leans from the lower accent to the upper one, the other way in the next column."""
    beads = parsing.load("chenille").rope(4)
    here = (beads.round == 2) & (beads.part == "pattern")
    accent, body = here & (beads.role == "accent"), here & (beads.role == "body")
    np.testing.assert_allclose(np.abs(beads.hole_axis[accent]), [[1, 0, 0]] * 3, atol=1e-12)
    lean = beads.hole_axis[body][np.argsort(beads.angle_turns[body]), 0]
    assert np.all(lean[:-1] * lean[1:] < 0)
    upper = beads.angle_turns[accent]
    for turn, (around, along, _) in zip(beads.angle_turns[body], beads.hole_axis[body], strict=True):
        nearest = upper[np.argmin(np.abs((upper - turn + 0.5) % 1 - 0.5))]
        assert np.sign(around * along) == np.sign((nearest - turn + 0.5) % 1 - 0.5)


def test_six_columns_make_a_tube_of_three_beads_with_an_opening_of_one() -> None:
    """Common practice, no source: six touching columns of diameter d make a tube of 3 d, opening 1 d."""
    made = parsing.load("chenille")
    assert made.radius == pytest.approx(1.0)
    assert made.opening_diameters == pytest.approx(1.0)
    assert (2 * made.radius + 1) * 2.1 == pytest.approx(6.3)
    assert made.outer_diameters * 2.1 == pytest.approx(7.5, abs=0.01)  # accents stand out


def inside(points: np.ndarray, centre: np.ndarray, axis: np.ndarray, size: tuple[float, float]) -> np.ndarray:
    """Which points lie in a rounded bead; its hole counts as filled."""
    off = points - centre
    along = off @ axis
    across = np.linalg.norm(off - along[:, None] * axis, axis=1)
    return (2 * across / size[0]) ** 3.2 + (2 * np.abs(along) / size[1]) ** 3.2 < 1


@pytest.mark.parametrize("name", SHIPPED)
def test_beads_do_not_cut_into_each_other(name: str) -> None:
    """Solid beads: of none may more than 5 % lie inside another (they lean, and are not all alike)."""
    made = parsing.load(name)
    size = made.bead_mm
    beads = made.rope(12)
    turn = 2 * np.pi * beads.angle_turns
    zero, one = np.zeros_like(turn), np.ones_like(turn)
    outward = np.stack([np.cos(turn), zero, np.sin(turn)], axis=-1)
    around = np.stack([-np.sin(turn), zero, np.cos(turn)], axis=-1)
    upward = np.stack([zero, one, zero], axis=-1)
    centre = outward * (beads.out * size[0])[:, None] + upward * (beads.along_beads * size[1])[:, None]
    axis = np.einsum("nk,knx->nx", beads.hole_axis, np.stack([around, upward, outward]))
    cube = np.random.default_rng(5).uniform(-0.5, 0.5, (1500, 3)) * np.array([size[0], size[0], size[1]])
    for i in np.flatnonzero((beads.part == "pattern") & (np.abs(beads.round - 6) <= 1)):
        aside = np.cross(axis[i], [0.31, 0.52, 0.8])
        aside /= np.linalg.norm(aside)
        frame = np.stack([aside, np.cross(axis[i], aside), axis[i]])
        points = centre[i] + cube @ frame
        points = points[inside(points, centre[i], axis[i], size)]
        near = np.flatnonzero(np.linalg.norm(centre - centre[i], axis=1) < 1.2 * max(size))
        for j in near[near != i]:
            assert inside(points, centre[j], axis[j], size).mean() < 0.05, (i, j)


@pytest.mark.parametrize("name", SHIPPED)
def test_the_flat_tile_holds_one_repeat(name: str) -> None:
    made = parsing.load(name)
    tile = made.flat((2.1, 1.45))
    none, repeat = made.counts(0), made.counts(made.repeat_rounds)
    numbers = {role: repeat[role] - none[role] for role in made.roles}
    outside = tile.out >= 0.5
    core = int(
        np.sum(made.rope(made.repeat_rounds).out[made.rope(made.repeat_rounds).part == "pattern"] < 0.5)
    )
    assert int(outside.sum()) == sum(numbers.values()) - core
    if not core:
        assert {role: int(np.sum(tile.role == role)) for role in made.roles} == numbers
    assert {role: n / sum(numbers.values()) for role, n in numbers.items()} == pytest.approx(made.shares())
    assert np.all((tile.x_mm >= 0) & (tile.x_mm < tile.width_mm))
    assert np.all((tile.y_mm >= 0) & (tile.y_mm < tile.height_mm))
    assert np.all(np.diff(tile.out) >= 0)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_tile_grows_with_its_beads(name: str) -> None:
    made = parsing.load(name)
    small, large = made.flat((2.1, 1.45)), made.flat((4.2, 2.9))
    for field in ("width_mm", "height_mm", "x_mm", "y_mm", "bead_w_mm", "bead_h_mm"):
        np.testing.assert_allclose(getattr(large, field), 2 * np.asarray(getattr(small, field)), rtol=1e-14)


def test_rise_in_diameters_follows_the_bead_and_not_its_length() -> None:
    """Peyote beads lie with their holes around: two rounds make one diameter, however long the bead."""
    assert parsing.load("peyote-even").rise.mm(1.6, 1.3)[1] == pytest.approx(0.8)
    assert parsing.load("herringbone").rise.mm(1.6, 1.3)[1] == pytest.approx(1.3, rel=0.03)


def test_rope_refuses_what_cannot_be() -> None:
    made: Motif = parsing.load("chenille")
    with pytest.raises(ValueError, match="0 or more; got -1"):
        made.rope(-1)
    with pytest.raises(ValueError, match="0 or more; got -1"):
        made.counts(-1)
    with pytest.raises(ValueError, match="above 0 bead lengths"):
        made.rope(1, rise=0.0)
