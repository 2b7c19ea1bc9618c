"""A colourway as a maker asks for it, in texts; read here for the command line and the page alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from analyser.colourway import photo_palette, rope_palette
from analyser.colourway.design import Wishes
from analyser.colourway.pairing import Wanted
from analyser.colourway.palette import Palette
from analyser.errors import OptionError
from analyser.motif.motif import Motif
from analyser.photo.box import Box
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.piece import counting
from analyser.piece.counting import SIZE
from analyser.piece.gauge import Gauge
from analyser.stock import units
from analyser.stock.bead import FINISHES, SHAPES
from analyser.stock.colour_text import read_colour
from analyser.stock.kinds import kind_of
from analyser.stock.stock import Stock


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourwayTexts:
    """What was typed; left out or None is the usual.

    Attributes
    ----------
    size, shape, finish : str or None
        Of the beads: ``"11/0"``, ``"round"``; any finish.
    length, wrist, neck : str or None
        One of them: ``"18cm"`` finished, or what it is to lie around.
    gauge : str or None
        ``"37 rounds in 5cm"``.
    spare : float or None
        Share on top.
    contrast, top, mind_colour_vision, collection
        As in ``Wishes``.
    worn_on : str or None
        A colour, or a box in the photo.
    thread : str or None
        A colour.
    from_rope : bool
        The photo shows a finished rope, whose roles are kept.
    colours : int or None
        Of the palette.
    focus : Box or None
        Where the subject lies in the photo.
    mask_file : Path or None
        A picture of the subject.
    """

    size: str | None = None
    shape: str | None = None
    finish: str | None = None
    length: str | None = None
    wrist: str | None = None
    neck: str | None = None
    gauge: str | None = None
    spare: float | None = None
    contrast: Wanted = "clear"
    top: int = 5
    mind_colour_vision: bool = False
    collection: int | None = None
    worn_on: str | None = None
    thread: str | None = None
    from_rope: bool = False
    colours: int | None = None
    focus: Box | None = None
    mask_file: Path | None = None

    def __post_init__(self) -> None:
        for name, word, known in (("shape", self.shape, SHAPES), ("finish", self.finish, FINISHES)):
            if word is not None and word not in known:
                raise OptionError(f"a {name} is one of {', '.join(known)}; got {word!r}")

    @property
    def bead(self) -> str:
        """Size and shape in words, as a gauge is kept by."""
        return str(kind_of(self._size, self.shape or "round"))

    @property
    def _size(self) -> str:
        return units.size(self.size) if self.size else SIZE

    def wishes(self, motif: Motif, stock: Stock, gauge: Gauge | None = None) -> Wishes:
        """The wishes, but for what the photo has to say.

        Parameters
        ----------
        motif : Motif
        stock : Stock
            Colours may be told as its beads.
        gauge : Gauge, optional
            The maker's usual one, where the texts have none.

        Raises
        ------
        OptionError, StockError
            If a text cannot be read; it is named.
        """
        own = Gauge.parse(self.gauge) if self.gauge else gauge
        return Wishes(
            motif=motif,
            size=self._size,
            shape=self.shape or "round",
            finish=self.finish,
            length_mm=self._finished_mm(motif, own),
            gauge=own,
            spare=self.spare,
            contrast=self.contrast,
            top=self.top,
            mind_colour_vision=self.mind_colour_vision,
            thread_lab=read_colour(self.thread, stock).lab if self.thread else None,
            collection=self.collection,
        )

    def _finished_mm(self, motif: Motif, gauge: Gauge | None) -> float | None:
        told = {name: text for name in ("length", "wrist", "neck") if (text := getattr(self, name))}
        if len(told) > 1:
            raise OptionError(f"say one of {', '.join(told)}: how long the piece is to be")
        if self.length or not told:
            return units.length_mm(self.length) if self.length else None
        kinds = dict.fromkeys(motif.roles, kind_of(self._size, self.shape or "round"))
        (around,) = told.values()
        made = counting.count(motif, body_mm=units.length_mm(around), kinds=kinds, gauge=gauge)
        return made.lengths.finished_mm

    def palette(self, photo: Photo, how: Calibration) -> tuple[Palette, Mapping[str, int] | None]:
        """The palette of a calibrated photo; of a finished rope also the roles its colours have.

        Raises
        ------
        OptionError, PhotoError
            If the box lies outside the photo, the mask cannot be used, or no rope is seen.
        """
        if self.from_rope:
            return rope_palette.rope_palette(photo, how)
        found = photo_palette.palette_of(
            photo, how, colours=self.colours, focus=self.focus, mask_file=self.mask_file
        )
        return found, None
