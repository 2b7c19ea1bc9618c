"""``analyser colourway``: the main job, from a photo and a stock to pairs and a page."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from analyser.cli import plan_request
from analyser.cli.options import AskedOfPhoto, asking, common, options, options_told
from analyser.cli.output import remark, show, talks, working
from analyser.cli.plan_request import PlanRequest
from analyser.cli.register import FRAMING, PHOTO, STOCK
from analyser.cli.values import FILE
from analyser.errors import OptionError

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.colourway.design import Colourway, Wishes
    from analyser.colourway.palette import Palette
    from analyser.colourway.plan_design import PlannedDesign
    from analyser.colourway.request import ColourwayTexts
    from analyser.photo.box import Box
    from analyser.photo.calibration import Calibration
    from analyser.photo.reading import Photo
    from analyser.piece.gauge import Gauge
    from analyser.stock.stock import Stock


@dataclass(frozen=True, kw_only=True)
class ColourwayRequest(AskedOfPhoto, PlanRequest):
    """What ``analyser colourway`` was asked for."""

    photo: Path | None
    from_rope: Path | None
    stock_file: Path
    skip_faulty: bool
    motif: str
    size: str
    length: str | None
    wrist: str | None
    neck: str | None
    gauge: str | None
    spare: float | None
    colours: int | None
    contrast: Literal["soft", "clear", "bold"]
    mind_colour_vision: bool
    shape: str | None
    finish: str | None
    top: int
    stays: str | None
    collection: int | None
    worn_on: str | None
    thread: str | None
    out_dir: Path | None
    focus: Box | None
    mask_file: Path | None
    keep_as: str | None
    keep_pair: int
    keep_with: tuple[str, ...]
    note: str
    steps: int | None

    @property
    def source(self) -> Path:
        """The photo to read: of what to match, or of a finished rope."""
        source = self.photo or self.from_rope
        if source is None or (self.photo and self.from_rope):
            raise OptionError(
                "give one photo: PHOTO of what to match, or --from-rope PHOTO of a finished rope"
            )
        return source

    def texts(self) -> ColourwayTexts:
        """What is wished, as it was typed."""
        from analyser.colourway.request import ColourwayTexts

        same = {field.name for field in fields(ColourwayTexts)} - {"from_rope"}
        asked = {name: getattr(self, name) for name in same}
        return ColourwayTexts(**asked, from_rope=self.from_rope is not None)


@click.command()
@click.argument("photo", type=FILE, required=False)
@options(
    "from_rope", *STOCK, "motif", "size", "length", "wrist", "neck", "gauge", "spare", "colours", "contrast",
    "mind_colour_vision", "shape", "finish", "top", "stays", "collection", "worn_on", "thread", "out", "keep",
    "keep_pair", "keep_with", "note", "plan_wish", "fade", "bands", "steps", *FRAMING, *PHOTO,
    stock={"required": True},
    motif={"default": "chenille", "show_default": True},
    size={"default": "11/0", "show_default": True},
    shape={"show_default": "round"},
    spare={"show_default": "10%"},
    top={"type": click.IntRange(1, 20), "default": 5, "help": "Pairs to propose."},
)  # fmt: skip
@common
@asking(ColourwayRequest)
def colourway(asked: ColourwayRequest) -> None:
    """From PHOTO and your stock to the palette, the beads that come closest, and accent/body pairs."""
    from analyser.cli.corrected import save_if_wanted
    from analyser.cli.lists import read_list
    from analyser.colourway import photo_palette, plan_design
    from analyser.motif import parsing
    from analyser.report import pair_answers

    source, wish = asked.source, plan_request.wish_of(asked, asked.steps)
    if asked.keep_as is not None:
        _check_name(asked.stock_file, asked.keep_as)
    beads = read_list(asked.stock_file, skip_faulty=asked.skip_faulty)
    texts = asked.texts()
    kept_gauge = None if asked.gauge else _kept_gauge(asked.motif, texts.bead)
    wishes = texts.wishes(parsing.load(asked.motif), beads, kept_gauge)
    with working("reading the photo"):
        pixels, how = photo_palette.calibrated(
            source,
            method=asked.calibration,
            card=asked.card,
            no_card=asked.no_card,
            even_light=asked.even_light,
            limit_mp=asked.limit_mp,
        )
        palette, roles = texts.palette(pixels, how)
    save_if_wanted(pixels, how, asked.corrected)
    wishes = replace(wishes, stands_for=roles)
    if asked.worn_on is not None:
        wishes = replace(wishes, worn_on_lab=photo_palette.ground_of(pixels, asked.worn_on, beads))
    with working("matching and pairing"):
        result = _designed(palette, beads, wishes, asked.stays, how)
        planned = None if wish is None else plan_design.design_plan(result, beads, wishes, wish)
    page = None if asked.out_dir is None else asked.out_dir / f"{source.stem}-colourway.html"
    answer = pair_answers.colourway_answer(result, beads, options_told(), None if page is None else str(page))
    if wish is not None:
        from analyser.report.plan_answers import plan_fields

        answer |= plan_fields(planned, wish, answer["notes"])

    def pairs_first(console: Console) -> None:
        from analyser.cli.readable import print_pairs
        from analyser.phrases.stock_lists import rows_in_short

        if says := rows_in_short(beads):
            console.print(says, markup=False)
        print_pairs(console, answer)

    in_short = asked.json_file is None and not talks("verbose")
    if in_short:  # not after the page, which takes as long to draw as all else
        show(answer, None, pairs_first)
    if page is not None:
        with working("drawing the page"):
            _write_page(answer, pixels, wishes, beads, result, planned, page)
        if asked.json_file is not None:
            remark(f"the page lies in {page}")
    answer["kept"] = None if asked.keep_as is None else str(_keep(asked, result, wishes, pixels, planned))

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_page, print_whole_colourway

        (print_page if in_short else print_whole_colourway)(console, answer)

    show(answer, asked.json_file, readable)


def _designed(
    palette: Palette, beads: Stock, wishes: Wishes, stays: str | None, how: Calibration
) -> Colourway:
    """The colourway; with what stays only pairs that hold it."""
    from analyser.colourway import design, keeping
    from analyser.stock.colour_text import read_colour

    if stays is None:
        return design.design(palette, beads, wishes)
    given = read_colour(stays, beads)
    if given.bead is not None:
        return keeping.design_beside(palette, beads, wishes, bead=given.bead)
    palette, index = keeping.with_colour(palette, given.lab, float(how.uncertainty_of(given.lab)))
    return keeping.design_beside(palette, beads, wishes, colour=index)


def _write_page(
    answer: dict[str, Any],
    pixels: Photo,
    wishes: Wishes,
    beads: Stock,
    result: Colourway,
    planned: PlannedDesign | None,
    page: Path,
) -> None:
    """The page; of a plan beside it its own file, and the chart to weave by."""
    from analyser.report.page import write_colourway_page

    write_colourway_page(
        answer,
        pixels,
        wishes.motif,
        page,
        beads=beads.beads,
        worn_on=wishes.worn_on_lab,
        rounds=result.count.rounds if result.count else None,
        planned=planned,
        calibration=result.palette.calibration,
    )
    if planned is None:
        return
    from analyser.files import write_whole
    from analyser.piece import plan_file
    from analyser.report.plan_answers import chart_of

    stem = page.stem.removesuffix("-colourway")
    write_whole(page.with_name(f"{stem}-plan.toml"), plan_file.text(planned.plan))
    write_whole(page.with_name(f"{stem}-chart.html"), chart_of(planned.piece))
    remark(f"the plan lies in {page.with_name(f'{stem}-plan.toml')}, its chart to weave by beside it")


def _check_name(stock_file: Path, name: str) -> None:
    """See that nothing of that name is kept, before anything is measured."""
    from analyser.piece import kept

    path = kept.folder_of(stock_file) / f"{kept.stem_of(name)}.toml"
    if path.exists():
        raise kept.KeptError(f"{name!r} is kept already, in {path}; choose another name")


def _keep(
    asked: ColourwayRequest,
    result: Colourway,
    wishes: Wishes,
    pixels: Photo,
    planned: PlannedDesign | None,
) -> Path:
    """Keep the plan, or the pair asked for, and a motif of the maker's own with it; its file."""
    from analyser.colourway import kept_pair
    from analyser.motif import own_motifs, parsing
    from analyser.piece import kept

    if wishes.motif.name not in parsing.names():
        own_motifs.save(own_motifs.folder_of(asked.stock_file), parsing.read_text(Path(asked.motif)))

    chosen = kept_pair.kept_pair(
        result,
        wishes,
        asked.keep_pair - 1,
        asked.keep_as or "",
        note=asked.note,
        company=asked.keep_with,
        planned=planned,
    )
    path = kept.keep(kept.folder_of(asked.stock_file), chosen, kept_pair.small_picture(pixels))
    remark(f"kept as {path}")
    return path


def _kept_gauge(motif: str, bead: str) -> Gauge | None:
    """The gauge kept in the settings for this motif and kind of bead."""
    from analyser.cli import settings
    from analyser.piece import gauge as gauges

    file = settings.find()
    held = gauges.kept(file).get(gauges.key_of(motif, bead)) if file else None
    if held:
        remark(f"gauge kept in {file} for {motif} in {bead}: {held}")
    return held
