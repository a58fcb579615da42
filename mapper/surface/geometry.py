"""A geometry version: everything about a part's shape that recorded entries refer to, immutable.

It is stored whole (arrays, parameters, evaluators with a format number) and known by the SHA-256 of
its bytes; it is never recomputed on opening, so an entry's outline stays where it was drawn.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon

from mapper.errors import MapperError
from mapper.surface.skin import Skin

Array = NDArray[np.float64]

HOW_MEASURED = ("tape", "drawing", "scan", "template", "foil", "weight")


@dataclass(frozen=True)
class Tolerance:
    """How a part was measured and how well: percent is the +/- of its areas (95 % half-width)."""

    how: str  # one of HOW_MEASURED
    percent: float
    note: str = ""

    def __post_init__(self) -> None:
        if self.how not in HOW_MEASURED:
            raise MapperError(
                f"The part was measured by {self.how!r}.",
                f"Allowed are {', '.join(HOW_MEASURED)}.",
            )
        if not 0.0 <= self.percent <= 100.0:
            raise MapperError(
                f"A tolerance of {self.percent:g} % was given.", "0 to 100 % is allowed."
            )


@dataclass(frozen=True, eq=False)
class Placement:
    """Where the part's frame lies in the aircraft's: `space = origin + rotation @ part` (mm).

    rotation (3, 3) is orthonormal with determinant +1. Left-hand parts carry mirrored arrays
    already (y negated), so no mirror is left to do here.
    """

    origin: Array
    rotation: Array

    def __post_init__(self) -> None:
        for name, shape in (("origin", (3,)), ("rotation", (3, 3))):
            values = np.array(getattr(self, name), dtype=np.float64)
            if values.shape != shape or not np.isfinite(values).all():
                raise MapperError(
                    f"The placement's {name} has shape {values.shape}.",
                    f"Finite numbers of shape {shape} are allowed.",
                )
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        turn = self.rotation
        if np.abs(turn @ turn.T - np.eye(3)).max() > 1e-9 or np.linalg.det(turn) < 0.0:
            raise MapperError(
                "The placement's rotation stretches or mirrors.",
                "A rotation matrix of determinant +1 is allowed.",
                "A left-hand part is mirrored in its own arrays, not here.",
            )


@dataclass(frozen=True, eq=False)
class MapLine:
    """A named line on a skin: kind is "rib", "spar", "stringer", "rivet row", "seam" or
    "hinge line".

    flat: lines in the skin's flat plane (several where it crosses charts or both sides).
    space: (K, 3) points in the part's frame for a hinge line, which need not lie on the skin.
    pitch: mm between rivets of a rivet row, else 0.
    """

    name: str
    kind: str
    skin: str
    flat: MultiLineString
    pitch: float = 0.0
    space: Array | None = None
    side: str = "both"  # "upper", "lower" or "both"

    def __post_init__(self) -> None:
        if self.space is not None:
            space = np.array(self.space, dtype=np.float64)
            if space.ndim != 2 or space.shape[1] != 3 or not np.isfinite(space).all():
                raise MapperError(
                    f"The line {self.name} has space points of shape {space.shape}.",
                    "Finite points x, y, z in mm are allowed.",
                )
            space.setflags(write=False)
            object.__setattr__(self, "space", space)


@dataclass(frozen=True, eq=False)
class Opening:
    """A hole in a skin, as a region of its flat plane that is taken off every area."""

    name: str
    skin: str
    flat: MultiPolygon


@dataclass(frozen=True, eq=False)
class Panel:
    """One sheet between its seams, openings taken off; region in the skin's flat plane.

    gauge mm (None: not known); cladding and alloy in words ("" not known); thin: thin or delicate
    sheet, to be stripped chemically and never blasted. side: "upper", "lower", "both" or "".
    gauge_how: "nominal", "measured" or "" (not known).
    """

    name: str
    skin: str
    flat: MultiPolygon
    alloy: str = ""
    gauge: float | None = None
    cladding: str = ""
    thin: bool = False
    side: str = ""
    gauge_how: str = ""


@dataclass(frozen=True, eq=False)
class Bay:
    """A piece of a skin bounded by ribs, spars and edges; named after what bounds it."""

    name: str
    skin: str
    flat: MultiPolygon


@dataclass(frozen=True, eq=False)
class Lap:
    """Where two sheets overlap: flat is the strip counted once (outside); the hidden (faying)
    surfaces below it have the areas `hidden_area` mm2 (both hidden faces together)."""

    name: str
    skin: str
    flat: MultiPolygon
    hidden_area: float


@dataclass(frozen=True, eq=False)
class Geometry:
    """One version of one part's shape. Frame: the part's own, right or (mirrored) left hand.

    station_axis: words ("span", "length"); datum: mm added to the axis to give a station.
    counted: what the areas count, in sentences for the foot of every area table.
    attached_to: name of the parent part, "" for none.
    """

    part: str
    shape: str
    skins: tuple[Skin, ...]
    tolerance: Tolerance
    placement: Placement
    lines: tuple[MapLine, ...] = ()
    panels: tuple[Panel, ...] = ()
    bays: tuple[Bay, ...] = ()
    openings: tuple[Opening, ...] = ()
    laps: tuple[Lap, ...] = ()
    station_axis: str = "span"
    datum: float = 0.0
    mirrored: bool = False
    bearings_inside: bool = False
    attached_to: str = ""
    counted: tuple[str, ...] = field(default_factory=tuple)

    def __post_init__(self) -> None:
        names = [skin.name for skin in self.skins]
        if not names or len(set(names)) != len(names):
            raise MapperError(
                f"{self.part} has the skins {names}.", "One or more, each with its own name."
            )
        for group in (self.lines, self.panels, self.bays, self.openings, self.laps):
            for item in group:
                # A hinge line may belong to the part as a whole.
                if item.skin and item.skin not in names:
                    raise MapperError(
                        f"{item.name} lies on the skin {item.skin!r}.",
                        f"{self.part} has {', '.join(repr(n) for n in names)}.",
                    )

    def skin(self, name: str) -> Skin:
        """The skin of that name; MapperError naming the skins there are."""
        for skin in self.skins:
            if skin.name == name:
                return skin
        names = ", ".join(repr(s.name) for s in self.skins)
        raise MapperError(f"No skin {name!r} on {self.part}.", f"It has {names}.")
