"""What is drawn on the page, as it comes over the wire: pieces, each of one tool.

Numbers are finite and lists have ends: what is not of this form is refused before anything looks at
it. Lengths are mm, flat coordinates mm on the flat map of a skin.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

MOST_POINTS = 20_000  # of one stroke, polygon or line
MOST_SHAPES = 2_000  # of one outline


class Wire(BaseModel):
    """Settled by the server, or taken only if every name and number is in order."""

    model_config = ConfigDict(extra="forbid", frozen=True)


Id = Annotated[
    str, StringConstraints(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9][A-Za-z0-9._:\-]*$")
]
Line = Annotated[str, StringConstraints(max_length=500)]
Text = Annotated[str, StringConstraints(max_length=20_000)]
Number = Annotated[float, Field(allow_inf_nan=False, ge=-1e9, le=1e9)]
# A nanometre at least: what is divided by a length stays finite.
Length = Annotated[float, Field(allow_inf_nan=False, ge=1e-6, le=1e7)]
Flat = tuple[Number, Number]
Points = Annotated[list[Flat], Field(min_length=1, max_length=MOST_POINTS)]
Span = tuple[Number, Number]
Op = Literal["add", "wipe"]


class StrokeShape(Wire):
    op: Op
    type: Literal["stroke"]
    points: Points
    radius: Length


class PolygonShape(Wire):
    op: Op
    type: Literal["polygon"]
    ring: Points


class DiscShape(Wire):
    op: Op
    type: Literal["disc"]
    at: Flat
    radius: Length


class BoxShape(Wire):
    op: Op
    type: Literal["box"]
    stations: Span | None
    chord: Span | None
    angles: Span | None
    side: Literal["upper", "lower", "both"]


class PanelShape(Wire):
    op: Op
    type: Literal["panel"]
    name: Line


class BayShape(Wire):
    op: Op
    type: Literal["bay"]
    name: Line


class WholeShape(Wire):
    op: Op
    type: Literal["whole"]


class PointShape(Wire):
    op: Op
    type: Literal["point"]
    at: Flat


class TapeShape(Wire):
    op: Op
    type: Literal["tape"]
    rib: Line
    outboard: Number
    spar: Line
    aft: Number
    upper: bool
    radius: Length | None


class LineShape(Wire):
    op: Op
    type: Literal["line"]
    points: Points
    width: Length | None


class KeptShape(Wire):
    op: Op
    type: Literal["kept"]
    entry: Id


class MirrorShape(Wire):
    op: Op
    type: Literal["mirror"]
    entry: Id


Shape = Annotated[
    StrokeShape
    | PolygonShape
    | DiscShape
    | BoxShape
    | PanelShape
    | BayShape
    | WholeShape
    | PointShape
    | TapeShape
    | LineShape
    | KeptShape
    | MirrorShape,
    Field(discriminator="type"),
]


class Where(Wire):
    """shape: digest of the geometry version it was drawn on; "" or left out: whichever is there."""

    skin: Line
    face: Line
    shapes: Annotated[list[Shape], Field(min_length=1, max_length=MOST_SHAPES)]
    shape: Annotated[str, StringConstraints(pattern=r"^([0-9a-f]{64})?$")] = ""
