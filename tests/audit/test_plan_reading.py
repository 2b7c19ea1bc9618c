"""Plans laid to beads made here, bead by bead: the truth is the tests' own, no outside source."""

import numpy as np
import pytest

from analyser.audit.plan_faults import off_plan
from analyser.audit.plan_reading import Laid, Scale, Seen, lay_plan
from analyser.motif.plan import Plan
from analyser.piece.plan_file import bands, fade, parse

ROUNDS = 60
SCALE = Scale((float(ROUNDS),), 2.0)

MIDDLE = """
[[stretch]]
share = 0.2
accent = "teal"
[[stretch]]
share = 0.3
accent = "coral"
[[stretch]]
accent = "teal"
"""


def beads(labels: list[int], seed: int = 3, wrong: float = 0.02) -> Seen:
    """Two accents of the label's class and three body beads of class 0 a round, some misread."""
    rng = np.random.default_rng(seed)
    at, kind = [], []
    for number, label in enumerate(labels):
        for own in (0, 0, 0, label, label):
            at.append((number + rng.uniform(0, 1)) / len(labels))
            kind.append(int(rng.integers(0, 3)) if rng.random() < wrong else own)
    order = np.argsort(at)
    return Seen(np.array(at)[order], np.array(kind)[order], ({}, {}, {}))


def laid(plan: Plan, labels: list[int], scale: Scale = SCALE, **told: int) -> Laid:
    found = lay_plan(plan, beads(labels, **told), ("body", "accent"), scale)
    assert found is not None
    return found


def told(found: Laid) -> list[tuple[str, float]]:
    return [(one.how, round(one.at, 2)) for one in off_plan(found, rounds_known=True)]


MIDDLE_LABELS = [1] * 12 + [2] * 18 + [1] * 30


@pytest.mark.parametrize("turned", [False, True])
def test_a_rope_that_keeps_to_its_plan_is_laid_whichever_way_it_lies(turned):
    labels = MIDDLE_LABELS[::-1] if turned else MIDDLE_LABELS
    found = laid(parse(MIDDLE, "plan.toml"), labels)
    assert found.turned is turned
    assert found.classes == (("body", None), ("accent", "teal"), ("accent", "coral"))
    borders = [round(one.stop, 2) for one in found.woven[:-1]]
    np.testing.assert_allclose(borders, [0.5, 0.8] if turned else [0.2, 0.5], atol=0.02)
    assert told(found) == []


def test_a_border_that_is_off_by_rounds_is_told_with_its_place_and_rounds():
    found = laid(parse(MIDDLE, "plan.toml"), [1] * 17 + [2] * 13 + [1] * 30)
    (off,) = off_plan(found, rounds_known=True)
    assert off.how == "border"
    assert (off.wanted, off.found) == ("teal", "coral")
    assert off.at == pytest.approx(17 / 60, abs=0.02)
    assert off.rounds == pytest.approx(5, abs=1)


def test_a_middle_that_was_not_woven_is_told():
    # Only two classes of beads are seen: the third colour is not there.
    seen = beads([1] * 60, wrong=0.0)
    found = lay_plan(
        parse(MIDDLE, "plan.toml"), Seen(seen.at, seen.kind, ({}, {})), ("body", "accent"), SCALE
    )
    assert found is not None
    (off,) = off_plan(found, rounds_known=True)
    assert off.how in ("bead", "missing")
    assert 0.2 < off.at < 0.5


def test_a_fade_that_runs_the_other_way_is_told_and_a_right_one_is_not():
    rng = np.random.default_rng(8)
    plan = fade("accent=teal..coral")
    share = np.clip((np.arange(ROUNDS) + 0.5 - 6) / 48, 0, 1)
    right = (1 + (rng.random(ROUNDS) < share)).tolist()
    assert told(laid(plan, right)) == []
    inside = (share > 0) & (share < 1)
    wrong = (1 + (rng.random(ROUNDS) < np.where(inside, 1 - share, share))).tolist()
    assert [how for how, _ in told(laid(plan, wrong))] == ["order"]


BANDS = bands(10, "accent=teal,coral")


def test_bands_are_read_at_any_scale_and_from_any_beginning():
    wide = Scale(tuple(np.exp(np.arange(np.log(40), np.log(90), 0.06)).tolist()), 2.0)
    labels = ([1] * 10 + [2] * 10) * 4
    found = laid(BANDS, labels[4:64], wide)
    assert told(found) == []
    assert found.rounds == pytest.approx(60, rel=0.05)


def test_a_band_left_out_and_a_band_in_the_other_bead_are_told_apart():
    out = [1] * 10 + [2] * 10 + [1] * 20 + [2] * 10 + [1] * 10
    assert told(laid(BANDS, out))[0][0] == "missing"
    other = [1] * 10 + [2] * 10 + [1] * 30 + [2] * 10
    assert told(laid(BANDS, other))[0][0] == "bead"


def test_a_photo_of_a_part_is_laid_where_it_belongs():
    cut = Scale((30.0,), 2.0, cut=True)
    by_rounds = MIDDLE.replace("share = 0.2", "rounds = 12").replace("share = 0.3", "rounds = 18")
    found = laid(parse(by_rounds, "plan.toml"), MIDDLE_LABELS[5:35], cut)
    assert told(found) == []
    np.testing.assert_allclose([one.stop for one in found.woven[:-1]], [7 / 30, 25 / 30], atol=0.03)


def test_more_kinds_of_beads_than_the_plan_knows_cannot_be_laid():
    seen = beads(MIDDLE_LABELS)
    more = Seen(seen.at, seen.kind, ({}, {}, {}, {}))
    assert lay_plan(parse(MIDDLE, "plan.toml"), more, ("body", "accent"), SCALE) is None


def test_a_fade_that_jumps_is_told():
    plan = fade("accent=teal..coral")
    assert [how for how, _ in told(laid(plan, [1] * 30 + [2] * 30))] == ["plain"]


def test_a_stretch_whose_beads_are_read_as_none_is_not_accused():
    # The middle's accents pass for body: two classes, and no accents there.
    seen = beads([1] * 12 + [0] * 18 + [1] * 30, wrong=0.0)
    found = lay_plan(
        parse(MIDDLE, "plan.toml"), Seen(seen.at, seen.kind, ({}, {})), ("body", "accent"), SCALE
    )
    assert found is not None
    assert found.unread == {("accent", "coral")}
    assert off_plan(found, rounds_known=True) == []


def test_told_colours_say_which_class_is_which_in_any_light():
    plan = parse(
        MIDDLE.replace("share = 0.3", "share = 0.4").replace("share = 0.2", "share = 0.3"), "plan.toml"
    )
    teal, coral = np.array([0.03, 0.15, 0.16]), np.array([0.55, 0.16, 0.10])
    lamp = np.array([0.9, 0.6, 0.3])
    told_light = {("accent", "teal"): teal, ("accent", "coral"): coral}
    # Symmetric: only the colours tell the middle from the ends, here woven the wrong way.
    seen = beads([2] * 18 + [1] * 24 + [2] * 18, wrong=0.0)
    linear = np.stack([np.full(3, 0.4), teal, coral]) * lamp
    right = Seen(seen.at, seen.kind, seen.unlike, linear, told_light)
    assert right.misfit((("body", None), ("accent", "teal"), ("accent", "coral"))) == pytest.approx(
        0, abs=0.1
    )
    assert right.misfit((("body", None), ("accent", "coral"), ("accent", "teal"))) > 30
    found = lay_plan(plan, right, ("body", "accent"), SCALE)
    assert found is not None
    assert found.classes == (("body", None), ("accent", "teal"), ("accent", "coral"))
    assert off_plan(found, rounds_known=True)
