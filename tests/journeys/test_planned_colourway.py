"""Plans in the main job and in `contrast`: proposed for a photo, or the maker's own.

Common practice, no source: what a plan means is our own format; sums and orders follow from its definition.
"""

from __future__ import annotations

from importlib import resources

import pytest

from analyser.piece import plan_file


@pytest.fixture
def job(samples, demo_stock):
    return ("colourway", samples / "outfit-scarf.jpg", "--stock", demo_stock, "--length", "18cm", "--quiet")


def test_a_fade_is_proposed_and_counts_again_from_its_own_file(analyser, job, demo_stock, tmp_path):
    told = analyser(*job, "--plan", "fade", "--out", tmp_path / "page", "--json", "-").answer("colourway")
    planned = told["planned"]
    series = [bead["id"] for bead in planned["series"]]
    assert planned["kind"] == "fade"
    assert len(series) == len(set(series)) == len(planned["steps_de00"]) + 1
    assert {series[0], series[-1]} <= {one["bead"] for one in planned["beads"]}
    assert planned["beside"]["accent"]["id"] not in series
    # The largest step at arm's length is the largest of the steps that are told.
    assert planned["fade"]["largest_seen"] == max(one["seen"] for one in planned["fade"]["steps"])
    page = (tmp_path / "page" / "outfit-scarf-colourway.html").read_text(encoding="utf-8")
    assert planned["title"] in page
    assert (tmp_path / "page" / "outfit-scarf-chart.html").exists()
    plan = tmp_path / "page" / "outfit-scarf-plan.toml"
    assert plan_file.load(plan) == plan_file.parse(planned["plan"], "the answer")
    counted = analyser(
        "count", "--plan", plan, "--stock", demo_stock, "--length", "18cm", "--json", "-"
    ).answer("count")
    both = [
        {(one["role"], one["bead"]): one["beads"] for one in of["beads"]}
        for of in (planned, counted["planned"])
    ]
    assert both[0] == both[1]


def test_a_fade_goes_between_the_colours_one_names(analyser, job):
    told = analyser(*job, "--plan", "fade:2-1", "--steps", "3", "--json", "-").answer("colourway")["planned"]
    assert [bead["stands_for"] for bead in told["series"]] == [1, None, 0]


@pytest.mark.parametrize(("kind", "role", "beads"), [("bands", "accent", 2), ("middle", "body", 2)])
def test_bands_and_a_middle_are_proposed(analyser, job, kind, role, beads):
    told = analyser(*job, "--plan", kind, "--json", "-").answer("colourway")["planned"]
    assert (told["kind"], told["role"]) == (kind, role)
    assert len({one["bead"] for one in told["beads"] if one["role"] == role}) == beads
    assert len(told["stretches"]) == 2


def test_a_plan_of_ones_own_gets_an_accent_that_reads_on_all_of_it(analyser, job):
    told = analyser(*job, "--fade", "body=teal-deep..driftwood", "--json", "-").answer("colourway")["planned"]
    assert told["kind"] is None
    assert set(told["beside"]) == {"accent"}
    assert all(one["reads_to_m"] > 0.6 for one in told["stretches"])


def test_contrast_tells_each_stretch_and_the_fade(analyser, demo_stock):
    told = analyser(
        "contrast", "coral-dusk", "teal-deep", "--stock", demo_stock,
        "--fade", "body=teal-deep..fog..driftwood", "--json", "-",
    ).answer("contrast")  # fmt: skip
    plan = told["planned"]
    assert [one["beads"]["body"] for one in plan["stretches"]] == ["body:teal-deep", "body:driftwood"]
    assert [(one["before"], one["after"]) for one in plan["fade"]["steps"]] == [
        ("body:teal-deep", "body:fog"),
        ("body:fog", "body:driftwood"),
    ]
    # The first stretch is the pair itself.
    assert plan["stretches"][0]["reads_to_m"] == pytest.approx(told["pair"]["reads_to_m"], rel=1e-9)


def test_contrast_counts_every_letter_of_a_motif(analyser, demo_stock, tmp_path):
    shipped = (resources.files("analyser.motif") / "motifs" / "chenille.toml").read_text(encoding="utf-8")
    for was, becomes in (('"chenille"', '"four"'), ('"BAB" ', '"BAB BCB BDB" '), ("repeats_after", "# ")):
        shipped = shipped.replace(was, becomes)
    (tmp_path / "four.toml").write_text(shipped, encoding="utf-8")
    pair = ("contrast", "coral-dusk", "teal-deep", "--stock", demo_stock, "--motif", tmp_path / "four.toml")

    def judged(*more):
        return analyser(*pair, *more, "--json", "-")

    as_body = judged("--third", "teal-deep", "--role", "D=teal-deep").answer("contrast")["pair"]
    light = judged("--third", "teal-deep", "--role", "D=#ffffff").answer("contrast")["pair"]
    assert list(light["beads"]) == ["accent", "body", "third", "D"]
    assert light["far_lab"][0] > as_body["far_lab"][0] + 3  # white beads lighten what it blurs to
    ended = judged("--third", "teal-deep")
    told = ended.answer("contrast")
    assert "D: no bead was named" in ended.err
    assert told["pair"]["far_lab"] == pytest.approx(as_body["far_lab"])
    refused = judged("--role", "E=sand")
    assert (refused.code, "has no further letter E" in refused.err) == (2, True)


def test_what_is_no_wish_for_a_plan_ends_in_a_line(analyser, job):
    for arguments, says in (
        (("--plan", "fade:2"), "--plan fade:2-5 goes between two colours"),
        (("--plan", "fade:1-40"), "there is no colour 40"),
        (("--plan", "fade", "--bands", "8", "accent=a,b"), "give one plan"),
        (("--steps", "3"), "--steps is for a plan to propose"),
        (("--fade", "third=teal-deep..driftwood"), "the motif chenille has accent, body"),
    ):
        ended = analyser(*job, *arguments)
        assert ended.code == 2
        assert says in ended.err
        assert len(ended.err.strip().splitlines()) == 1


def test_a_motif_of_three_colours_is_planned_with_its_third(analyser, job, demo_stock, tmp_path):
    shipped = (resources.files("analyser.motif") / "motifs" / "chenille.toml").read_text(encoding="utf-8")
    changes = ('name = "chenille"', 'name = "three"'), ('"BAB" ', '"BAB BAB BCB" '), ("repeats_after", "# ")
    for was, becomes in changes:
        shipped = shipped.replace(was, becomes)
    (tmp_path / "three.toml").write_text(shipped, encoding="utf-8")
    told = analyser(
        *job, "--motif", tmp_path / "three.toml", "--plan", "fade", "--out", tmp_path, "--json", "-"
    )
    planned = told.answer("colourway")["planned"]
    roles = {one["role"] for one in planned["beads"]}
    assert roles == {"accent", "body", "third"}
    assert set(planned["beside"]) == {"accent", "third"}
    ids = [one["id"] for one in planned["beads"]]
    assert len(ids) == len(set(ids))
    # The plan's file is complete: counted again it needs nothing beside it.
    counted = analyser(
        "count", "--motif", tmp_path / "three.toml", "--plan", tmp_path / "outfit-scarf-plan.toml",
        "--stock", demo_stock, "--json", "-",
    ).answer("count")  # fmt: skip
    assert {one["id"] for one in counted["planned"]["beads"]} == set(ids)


def test_a_fade_is_kept_and_woven_again_in_another_length(analyser, job, demo_stock, tmp_path):
    box = tmp_path / "box.csv"
    box.write_bytes(demo_stock.read_bytes())
    asked = [box if part is demo_stock else part for part in job]
    planned = analyser(*asked, "--plan", "fade", "--keep", "Quay fade", "--json", "-").answer("colourway")[
        "planned"
    ]
    one = analyser("kept", "show", "Quay fade", "--stock", box, "--json", "-").answer("kept show")[
        "colourway"
    ]
    assert plan_file.parse(one["plan"], "kept") == plan_file.parse(planned["plan"], "told")
    assert {bead["id"] for bead in one["beads"].values()} == {bead["id"] for bead in planned["beads"]}
    needs = {bead["id"]: bead["needs"] for bead in one["beads"].values()}
    assert needs == {bead["id"]: bead["with_spare"] for bead in planned["beads"]}

    again = analyser(
        "kept",
        "again",
        "Quay fade",
        "--length",
        "45cm",
        "--stock",
        box,
        "--keep",
        "Quay necklace",
        "--json",
        "-",
    ).answer("count")
    plan = tmp_path / "plan.toml"
    plan.write_text(one["plan"], encoding="utf-8")
    counted = analyser("count", "--plan", plan, "--stock", box, "--length", "45cm", "--json", "-").answer(
        "count"
    )
    assert sorted(again["with_spare"].values()) == sorted(
        bead["with_spare"] for bead in counted["planned"]["beads"]
    )
    longer = analyser("kept", "show", "Quay necklace", "--stock", box, "--json", "-").answer("kept show")[
        "colourway"
    ]
    assert {bead["id"]: bead["needs"] for bead in longer["beads"].values()} == {
        bead["id"]: bead["with_spare"] for bead in counted["planned"]["beads"]
    }
    page = tmp_path / "quay.html"
    ended = analyser("kept", "show", "Quay fade", "--stock", box, "--out", page)
    assert ended.code == 0, ended.err
    cards = tmp_path / "cards.html"
    kits = analyser(
        "count", "--kept", "Quay fade x2", "--stock", box, "--cards", cards, "--json", "-"
    ).answer("count")
    for bead in planned["beads"]:
        assert cards.read_text(encoding="utf-8").count(f">{bead['id']}<") == 2  # once on either card
    assert {portion["id"] for portion in kits["cards"][0]["portions"]} == {
        bead["id"] for bead in planned["beads"]
    }
