"""What the page may ask, checked before it reaches the pool."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

Text = Annotated[str, Field(max_length=200)]
Contrast = Literal["soft", "clear", "bold"]
Sight = Literal["usual", "protan", "deutan", "tritan"]
Light = Literal["D65", "FL2", "FL11", "LED-B3", "A", "LED-B1", "LED-B2"]
Metres = Annotated[float, Field(ge=0.35, le=8.0)]


class PhotoWishes(BaseModel):
    """What every photo may be told of the card in it, as texts one would type on the command line."""

    model_config = ConfigDict(extra="forbid")
    calibration: Literal["auto", "chart", "sheet", "card", "paper", "none"] = "auto"
    card: Text | None = None
    no_card: bool = False
    even_light: bool = False


class ColourwayWishes(PhotoWishes):
    """The wishes of ``analyser colourway``, as texts one would type there."""

    motif: Text = "chenille"
    size: Text = "11/0"
    shape: Text = "round"
    finish: Text | None = None
    length: Text | None = "18cm"
    wrist: Text | None = None
    neck: Text | None = None
    gauge: Text | None = None
    spare: Annotated[float, Field(ge=0, le=2)] | None = None
    collection: Annotated[int, Field(ge=1, le=12)] | None = None
    colours: Annotated[int, Field(ge=2, le=24)] | None = None
    contrast: Contrast = "clear"
    top: Annotated[int, Field(ge=1, le=12)] = 5
    mind_colour_vision: bool = False
    worn_on: Text | None = None
    thread: Text | None = None
    focus: Text | None = None
    mask: Annotated[str, Field(pattern="^[0-9a-f]{16}$")] | None = None
    from_rope: bool = False
    plan: Literal["fade", "bands", "middle"] | None = None
    plan_steps: Annotated[int, Field(ge=2, le=7)] | None = None
    plan_between: Annotated[str, Field(pattern="^[1-9][0-9]?-[1-9][0-9]?$")] | None = None
    keep_bead: Text | None = None
    keep_colour: Text | None = None


Letter = Annotated[str, Field(max_length=220, pattern=r"^[D-Z]=\S")]


class Drawn(BaseModel):
    """What a rope's picture shows: its beads (``#rrggbb`` or ``lab:L,a,b``), its motif, its viewer.

    Each of ``letters`` is ``D=COLOUR``, or ``D=COLOUR;FINISH;SHAPE``.
    """

    model_config = ConfigDict(extra="forbid")
    accent: Text
    body: Text
    third: Text | None = None
    end: Text | None = None
    accent_finish: Text | None = None
    body_finish: Text | None = None
    third_finish: Text | None = None
    end_finish: Text | None = None
    accent_shape: Text = "round"
    body_shape: Text = "round"
    third_shape: Text = "round"
    end_shape: Text = "round"
    end_size: Text | None = None
    letters: Annotated[list[Letter], Field(max_length=23)] = []
    motif: Text = "chenille"
    size: Text = "11/0"
    part: Literal["rope", "piece"] = "rope"
    metres: Metres = 0.35
    sight: Sight = "usual"
    light: Light = "D65"
    cloth: Text | None = None


class PlanWishes(BaseModel):
    """A rope along a plan, which is told as its file would be; and the beads where it says nothing."""

    model_config = ConfigDict(extra="forbid")
    plan: Annotated[str, Field(min_length=1, max_length=6000)]
    motif: Text = "chenille"
    size: Text = "11/0"
    length: Text = "18cm"
    accent: Text | None = None
    body: Text | None = None
    third: Text | None = None
    role: Text | None = None
    gauge: Text | None = None


class RopeWishes(PhotoWishes):
    """The wishes of ``analyser audit``."""

    motif: Text | None = None
    length: Text | None = None
    worked_to: Literal["left", "right", "top", "bottom"] | None = None
    accent: Text | None = None
    body: Text | None = None
    third: Text | None = None
    role: Text | None = None
    plan: Annotated[str, Field(max_length=6000)] | None = None
    planned: bool = False
    lot_tolerance: Annotated[float, Field(ge=0, le=100)] | None = None
    uneven_from: Annotated[float, Field(ge=0, le=100)] | None = None


class KeptGauge(BaseModel):
    """Which rope of a photo tells the gauge, and the size of bead to keep it for."""

    model_config = ConfigDict(extra="forbid")
    rope: Annotated[int, Field(ge=1, le=1000)] = 1
    size: Text = "11/0"


class TypedGauge(BaseModel):
    """A gauge as it was typed, and the motif and beads to keep it for."""

    model_config = ConfigDict(extra="forbid")
    gauge: Annotated[str, Field(min_length=1, max_length=200)]
    motif: Text = "chenille"
    size: Text | None = None
    shape: Text | None = None
    bead: Text | None = None
    accent: Text | None = None
    body: Text | None = None
    third: Text | None = None


class TrayWishes(PhotoWishes):
    """Nothing is asked of a tray photo but its piles."""


class AboutCard(BaseModel):
    """What the maker says of what is outlined in a photo: a card, white paper, neither, or look again."""

    model_config = ConfigDict(extra="forbid")
    says: Literal["white", "grey", "paper", "no", "again"]


class NamedPile(BaseModel):
    """A pile of a tray photo: what it is to be called, or the row of the list that it is."""

    model_config = ConfigDict(extra="forbid")
    number: Annotated[int, Field(ge=1, le=1000)]
    id: Annotated[str, Field(min_length=1, max_length=200)]
    name: Text = ""
    lot: Text = ""
    row: Annotated[int, Field(ge=1, le=2_000_000)] | None = None
    replace: bool = False


class NamedPiles(BaseModel):
    """The piles that go into the list, and the size of their beads."""

    model_config = ConfigDict(extra="forbid")
    size: Text = "11/0"
    piles: Annotated[list[NamedPile], Field(min_length=1, max_length=200)]
    further: bool = False


class Agreement(BaseModel):
    """How the list is read from now on; without a value it is asked again."""

    model_config = ConfigDict(extra="forbid")
    kind: Annotated[str, Field(min_length=1, max_length=300)]
    value: bool | Annotated[str, Field(min_length=1, max_length=200)] | None = None


class CellChange(BaseModel):
    """A cell of the stock list as it was seen, and what it is to hold."""

    model_config = ConfigDict(extra="forbid")
    row: Annotated[int, Field(ge=1, le=2_000_000)]
    column: Text
    was: Annotated[str, Field(max_length=2000)]
    value: Annotated[str, Field(max_length=2000)]


class Keeping(BaseModel):
    """A pair of a photo's colourway to keep, and the name to keep it by."""

    model_config = ConfigDict(extra="forbid")
    photo: Text
    pair: Annotated[int, Field(ge=1, le=24)] = 1
    name: Annotated[str, Field(min_length=1, max_length=100)]
    note: Annotated[str, Field(max_length=2000)] = ""
    company: Annotated[list[Literal["third", "end"]], Field(max_length=2)] = []
    plan: bool = False


class KeptAgain(BaseModel):
    """A kept colourway in another length, and the name to keep that by."""

    model_config = ConfigDict(extra="forbid")
    name: Annotated[str, Field(min_length=1, max_length=100)]
    length: Text | None = None
    wrist: Text | None = None
    neck: Text | None = None


class KeptState(BaseModel):
    """What has become of a kept colourway."""

    model_config = ConfigDict(extra="forbid")
    state: Literal["idea", "woven", "sold"]


class MotifText(BaseModel):
    """A motif file's text as it is being written."""

    model_config = ConfigDict(extra="forbid")
    text: Annotated[str, Field(max_length=100_000)]


class MotifSaved(MotifText):
    """A motif to save, and whether it may take the place of one of that name."""

    replace: bool = False


class Packing(BaseModel):
    """Kept colourways and the kits of each, in the same order."""

    model_config = ConfigDict(extra="forbid")
    kept: Annotated[list[Text], Field(min_length=1, max_length=24)]
    kits: Annotated[list[Annotated[int, Field(ge=1, le=100)]], Field(min_length=1, max_length=24)]
    spare: Annotated[float, Field(ge=0, le=2)] | None = None
    pack_grams: Annotated[float, Field(ge=0.1, le=10_000)] = 10.0

    @model_validator(mode="after")
    def _as_many(self) -> Self:
        if len(self.kept) != len(self.kits):
            raise ValueError("say the kits of each colourway")
        return self


class PieceWishes(BaseModel):
    """What piece is made, as texts one would type for ``analyser count``."""

    model_config = ConfigDict(extra="forbid")
    accent: Text
    body: Text
    third: Text | None = None
    end: Text | None = None
    motif: Text = "chenille"
    size: Text = "11/0"
    shape: Text | None = None
    length: Text | None = None
    wrist: Text | None = None
    neck: Text | None = None
    rounds: Annotated[int, Field(ge=0, le=100_000)] | None = None
    gauge: Text | None = None
    spare: Annotated[float, Field(ge=0, le=2)] | None = None
    clasp: Text | None = None
    end_bead: Text | None = None
    reinforced: bool = False
    bead: Text | None = None
    role: Text | None = None


class TakenWishes(PieceWishes):
    """A finished piece to book out, and notes for its card."""

    notes: Annotated[str, Field(max_length=2000)] | None = None


class PairWishes(PieceWishes):
    """Two beads or colours, and where they are worn."""

    worn_on: Text | None = None
    thread: Text | None = None


class Told(BaseModel):
    """What went wrong, in one line."""

    kind: str
    says: str


class Refusal(BaseModel):
    """The error object every verb shares."""

    model_config = ConfigDict(populate_by_name=True)
    version: int = Field(1, alias="schema")
    error: Told


#: Documented for every path: what the guard and the pool may answer.
REFUSALS: dict[int | str, dict[str, Any]] = {
    403: {"model": Refusal, "description": "Not from this page"},
    404: {"model": Refusal, "description": "Not here any more"},
    409: {"model": Refusal, "description": "Not now, or not as it stands"},
    413: {"model": Refusal, "description": "Too large"},
    415: {"model": Refusal, "description": "Another kind of file"},
    421: {"model": Refusal, "description": "Another host"},
    422: {"model": Refusal, "description": "Something does not fit"},
    429: {"model": Refusal, "description": "Too much is waiting"},
}
