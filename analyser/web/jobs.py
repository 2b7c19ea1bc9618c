"""What a worker of the pool does: the verbs' jobs on kept photos, step by step.

Every function takes ``tell`` first, to report a stage and what there is so far. A photo once read and
calibrated is kept, so that a changed wish costs no reading.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from analyser.colourway import design, keeping, kept_pair, matching, photo_palette, plan_design
from analyser.colourway.palette import Palette
from analyser.colourway.plan_choice import PlanWish
from analyser.colourway.plan_design import PlannedDesign
from analyser.colourway.request import ColourwayTexts
from analyser.drawing.reference_view import photo_view
from analyser.errors import OptionError
from analyser.imaging import encoding
from analyser.imaging.downscale import resize
from analyser.motif import parsing
from analyser.photo.box import Box
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.photo.saving import corrected_file
from analyser.piece import counting, kept
from analyser.piece.gauge import key_of
from analyser.piece.kits import KitColourway
from analyser.report import answers, pair_answers
from analyser.report.plan_answers import plan_fields
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.colour_text import read_colour
from analyser.stock.stock import Stock
from analyser.web import (
    kept_jobs,
    motif_jobs,
    pack_jobs,
    pictures,
    piece_jobs,
    plan_jobs,
    rope_jobs,
    sheet_jobs,
    shown,
    tray_jobs,
)
from analyser.web.job_cache import LIMIT_MP, SHOWN_PX, Kept, card_told, known_motif, light_key

Tell = Callable[..., None]
Wishes = Mapping[str, Any]

_CROP_PX = 480


class _Open:
    """A photo read and calibrated, with what was worked out of it: that goes when its photo goes."""

    def __init__(self, photo: Photo, how: Calibration) -> None:
        self.photo, self.how = photo, how
        self.pixels, self.palettes, self.matched = Kept(8), Kept(32), Kept(16)


_PHOTOS = Kept(4)  # 4 megapixels of float32 each: 50 MB


def warm() -> None:
    """Load once what the first job would otherwise wait for."""
    import PIL.Image  # noqa: F401 (loaded ahead)

    pictures.rope(
        parsing.load("chenille"),
        "11/0",
        {"accent": ((60, 0, 0), None, "round"), "body": ((30, 0, 0), None, "round")},
    )
    design.seen_motif(design.Wishes(parsing.load("chenille")))


def _open(path: str, wishes: Wishes) -> _Open:
    told = card_told(wishes)

    def read() -> _Open:
        photo, how = photo_palette.calibrated(Path(path), limit_mp=LIMIT_MP, **told)
        return _Open(dataclasses.replace(photo, file=Path(path).name), how)

    return _PHOTOS.get((path, *light_key(wishes)), read)


def _texts(wishes: Wishes) -> ColourwayTexts:
    """What was typed on the page."""
    focus = wishes.get("focus")
    same = {field.name for field in dataclasses.fields(ColourwayTexts)} & set(wishes) - {"focus"}
    return ColourwayTexts(**{name: wishes[name] for name in same}, focus=Box.parse(focus) if focus else None)


def _palette(path: str, wishes: Wishes) -> tuple[Palette, Mapping[str, int] | None]:
    """The palette; of a finished rope also the roles its colours have."""
    texts, mask, opened = _texts(wishes), wishes.get("mask"), _open(path, wishes)
    if mask:  # it lies beside its photo
        texts = dataclasses.replace(texts, mask_file=Path(path).with_name(f"mask-{mask}"))
    photo, how, subject = opened.photo, opened.how, (texts.focus, texts.mask_file)

    def found() -> tuple[Palette, Mapping[str, int] | None]:
        if texts.from_rope:
            return texts.palette(photo, how)
        pixels = opened.pixels.get(
            subject,
            lambda: photo_palette.pixels_of(photo, how, focus=texts.focus, mask_file=texts.mask_file),
        )
        return pixels.reduced(texts.colours), None

    return opened.palettes.get(("rope",) if texts.from_rope else (*subject, texts.colours), found)


def _wishes(wishes: Wishes, held: Stock, photo: Photo) -> design.Wishes:
    worn = wishes.get("worn_on")
    motif, texts = known_motif(wishes["motif"], held.path), _texts(wishes)
    usual = piece_jobs.kept_gauges(str(held.path)).get(key_of(motif.name, texts.bead))
    asked = texts.wishes(motif, held, usual)
    return dataclasses.replace(
        asked, worn_on_lab=photo_palette.ground_of(photo, worn, held) if worn else None
    )


def colourway(tell: Tell, path: str, stock_file: str, wishes: Wishes) -> dict[str, Any]:
    """Job of ``analyser colourway``: first a quick palette with matches, marked provisional, then all."""
    held = piece_jobs.stock(stock_file)
    if wishes.get("from_rope"):
        tell("following the rope and its beads")
    elif (path, *light_key(wishes)) not in _PHOTOS:
        tell("reading the photo")
        photo, how = photo_palette.calibrated(Path(path), method="none", limit_mp=LIMIT_MP)
        photo = dataclasses.replace(photo, file=Path(path).name)
        first = photo_palette.palette_of(photo, how, colours=wishes.get("colours"))
        found = matching.nearest(
            [colour.lab for colour in first.colours],
            held,
            size=units.size(wishes["size"]),
            shape=wishes["shape"],
            finish=wishes.get("finish"),
            uncertainty_de00=[colour.uncertainty_de00 for colour in first.colours],
            names=[colour.name for colour in first.colours],
        )
        partial = {
            **answers.palette_answer(first, {}),
            "matches": answers.matches_fields(found),
            "pairs": [],
            "provisional": True,
        }
        tell("looking for a chart, a card or white paper", shown.dressed(partial))
        _open(path, wishes)
        tell("choosing pairs", None)
    answer, _, _ = _designed(path, stock_file, wishes)
    return {"answer": answer, "shown": shown.dressed(answer, _open(path, wishes).how)}


def _designed(
    path: str, stock_file: str, wishes: Wishes
) -> tuple[dict[str, Any], design.Colourway, PlannedDesign | None]:
    held = piece_jobs.stock(stock_file)
    opened = _open(path, wishes)
    palette, roles = _palette(path, wishes)
    plan = dataclasses.replace(_wishes(wishes, held, opened.photo), stands_for=roles)
    if wishes.get("keep_bead"):
        bead = held.find(wishes["keep_bead"])
        if bead.lab is None:
            raise OptionError(f"{bead.name} has no colour yet, so nothing can be chosen beside it")
        result = keeping.design_beside(palette, held, plan, bead=bead)
    elif wishes.get("keep_colour"):
        lab = read_colour(wishes["keep_colour"]).lab
        palette, index = keeping.with_colour(palette, lab, float(opened.how.uncertainty_of(lab)))
        result = keeping.design_beside(palette, held, plan, colour=index)
    else:
        kept_by = (id(palette), id(held), plan.size, plan.shape, plan.finish)
        # The palette and the list are held with what was matched, so that no other takes their identity.
        *_, matched = opened.matched.get(
            kept_by, lambda: (palette, held, design.matched_to(palette, held, plan))
        )
        result = design.design(palette, held, plan, matched=matched)
    answer = pair_answers.colourway_answer(result, held, {**wishes, "stock": stock_file}, None)
    for fields, pair in zip(answer["pairs"], result.pairs, strict=True):
        if plan.length_mm is not None:
            fields["counted"] = _counted(plan, held, pair.beads)
    planned = None
    if wishes.get("plan"):
        between = wishes.get("plan_between")
        ends = None
        if between and wishes["plan"] == "fade":
            first, last = (int(part) - 1 for part in between.split("-"))
            if first == last:
                raise OptionError(f"a fade goes between two colours of the photo; got {between}")
            ends = first, last
        wish = PlanWish(wishes["plan"], ends, wishes.get("plan_steps"))
        planned = plan_design.design_plan(result, held, plan, wish)
        answer |= plan_fields(planned, wish, answer["notes"])
    return answer, result, planned


def _counted(plan: design.Wishes, held: Stock, beads: Mapping[str, Bead]) -> dict[str, Any]:
    lots = {role: piece_jobs.lots_of(held, bead) for role, bead in beads.items()}
    made = counting.count(
        plan.motif,
        length_mm=plan.length_mm,
        size=plan.size,
        gauge=plan.gauge,
        spare=plan.spare,
        stock=lots,
    )
    return piece_jobs.count_answer(KitColourway("", made, lots, 1))


def spot(
    tell: Tell, path: str, stock_file: str, wishes: Wishes, x: float, y: float, top: int
) -> dict[str, Any]:
    """The colour round a touched place, and the beads nearest to it."""
    held = piece_jobs.stock(stock_file)
    opened = _open(path, wishes)
    lab, sure = photo_palette.touched(opened.photo, opened.how, x, y)
    found = matching.nearest(
        [lab], held, top=top, size=units.size(wishes["size"]), shape=wishes["shape"], uncertainty_de00=sure
    )
    (match,) = answers.matches_fields(found)
    return shown.dressed({**match, "uncertainty_de00": sure, "pixel": [x, y]})


def photo_picture(tell: Tell, path: str, wishes: Wishes) -> bytes:
    """The calibrated photo as a JPEG."""
    opened = _open(path, wishes)
    return encoding.jpeg_bytes(photo_view(opened.photo, opened.how, SHOWN_PX), 86)


def _of_any_use(path: str, wishes: Wishes) -> Photo:
    """The calibrated photo, whatever it was added for."""
    if wishes["use"] == "rope":
        return rope_jobs.pieces_of(path, wishes)[0].photo
    return tray_jobs.tray_of(path, wishes).photo if wishes["use"] == "tray" else _open(path, wishes).photo


def corrected(tell: Tell, path: str, wishes: Wishes) -> bytes:
    """The photo of any use in corrected colours, as a JPEG for a shop's page: ``--corrected``."""
    return corrected_file(_of_any_use(path, wishes))[0]


def photo_crop(tell: Tell, path: str, wishes: Wishes, x: float, y: float, side: float) -> bytes:
    """A square of the calibrated photo round a place, enlarged."""
    photo = _of_any_use(path, wishes)
    height, width = photo.linear.shape[:2]
    half = max(8, round(side / photo.scale / 2))
    column, row = round(x / photo.scale), round(y / photo.scale)
    left = min(max(column - half, 0), max(width - 2 * half, 0))
    top = min(max(row - half, 0), max(height - 2 * half, 0))
    cut = np.ascontiguousarray(photo.linear[top : top + 2 * half, left : left + 2 * half])
    if not cut.size:
        raise OptionError(f"{x:g},{y:g} lies outside the photo of {photo.width} x {photo.height} pixels")
    enlarged = _CROP_PX / max(cut.shape[:2])
    size = (max(1, round(cut.shape[1] * enlarged)), max(1, round(cut.shape[0] * enlarged)))
    return encoding.jpeg_bytes(encoding.srgb_u8(resize(cut, size)), 86)


def colourway_report(tell: Tell, path: str, stock_file: str, wishes: Wishes) -> str:
    """The one-page report of ``analyser colourway``."""
    from analyser.report.page import colourway_page

    held = piece_jobs.stock(stock_file)
    photo = _open(path, wishes).photo
    plan = _wishes(wishes, held, photo)
    answer, result, planned = _designed(path, stock_file, wishes)
    return colourway_page(
        answer,
        photo,
        plan.motif,
        beads=held.beads,
        worn_on=plan.worn_on_lab,
        rounds=result.count.rounds if result.count else None,
        planned=planned,
        calibration=result.palette.calibration,
    )


def keep(
    tell: Tell,
    path: str,
    stock_file: str,
    wishes: Wishes,
    pair: int,
    name: str,
    note: str,
    company: list[str],
    plan: bool,
) -> str:
    """Keep a pair of a photo's colourway beside the list, as ``analyser colourway --keep`` does; its file."""
    held = piece_jobs.stock(stock_file)
    photo = _open(path, wishes).photo
    _, result, planned = _designed(path, stock_file, wishes)
    if plan and planned is None:
        raise OptionError("there is no plan to keep; ask for one first")
    chosen = kept_pair.kept_pair(
        result,
        _wishes(wishes, held, photo),
        pair - 1,
        name,
        note=note,
        company=company,
        planned=planned if plan else None,
    )
    return str(kept.keep(kept.folder_of(Path(stock_file)), chosen, kept_pair.small_picture(photo)))


def rope_picture(tell: Tell, stock_file: str, **what: Any) -> bytes:
    """See ``pictures.rope``; colours come as text."""
    entries = {}
    for role in ("accent", "body", "third", "end"):
        colour, finish, shape = what.pop(role), what.pop(f"{role}_finish"), what.pop(f"{role}_shape")
        if colour is not None:
            entries[role] = (read_colour(colour).lab, finish, shape)
    for letter, text in (one.split("=", 1) for one in what.pop("letters")):
        colour, finish, shape = [*text.split(";"), "", ""][:3]
        entries[letter] = (read_colour(colour).lab, finish or None, shape or "round")
    cloth, end_size = what.pop("cloth"), what.pop("end_size")
    return pictures.rope(
        known_motif(what.pop("motif"), stock_file),
        units.size(what.pop("size")),
        entries,
        cloth=read_colour(cloth).lab if cloth else None,
        end_size=units.size(end_size) if end_size else None,
        **what,
    )


def pile_picture(tell: Tell, colour: str, finish: str | None) -> bytes:
    """See ``pictures.pile``."""
    return pictures.pile(read_colour(colour).lab, finish)


JOBS: Mapping[str, Callable[..., Any]] = (
    kept_jobs.JOBS
    | pack_jobs.JOBS
    | piece_jobs.JOBS
    | plan_jobs.JOBS
    | motif_jobs.JOBS
    | sheet_jobs.JOBS
    | {
        function.__name__: function
        for function in (
            rope_jobs.audit,
            rope_jobs.audit_report,
            rope_jobs.check_list,
            rope_jobs.new_lot,
            tray_jobs.named_piles,
            tray_jobs.tray,
            tray_jobs.tray_photo,
            colourway,
            colourway_report,
            corrected,
            rope_jobs.compare,
            keep,
            photo_crop,
            photo_picture,
            pile_picture,
            rope_jobs.rope_photo,
            rope_picture,
            spot,
        )
    }
)
