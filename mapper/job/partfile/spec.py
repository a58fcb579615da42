"""A part file that has been read and checked: frozen values, lengths in mm, angles in degrees.

Stations are as the file says them, from the datum. `path` leads back to the file's lines; None is
"not said". Field names are the file's keys.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import Any, TypeVar

from mapper.job.partfile.key import SHAPES
from mapper.job.partfile.mistakes import Mistake, PartFileError
from mapper.job.partfile.scan import Lines, Path

Point = tuple[float, float]
SpacePoint = tuple[float, float, float]
NOWHERE: SpacePoint = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class MeasuredSpec:
    """[measured]: how, tolerance in percent of areas, by whom, when."""

    how: str
    tolerance: float
    by: str = ""
    date: date | None = None
    note: str = ""


@dataclass(frozen=True)
class PlacementSpec:
    """[placement]: origin mm and rotation degrees about the aft, outboard, then up axis."""

    origin: SpacePoint = NOWHERE
    rotation: SpacePoint = NOWHERE


@dataclass(frozen=True)
class AttachmentSpec:
    """[attachment]: the part this one hangs on, and where in that part's frame."""

    to: str
    part_file: str = ""
    origin: SpacePoint = NOWHERE
    rotation: SpacePoint = NOWHERE


@dataclass(frozen=True)
class SheetSpec:
    """[sheet]: what a panel is made of unless it says otherwise; gauge mm."""

    alloy: str = ""
    gauge: float | None = None
    gauge_how: str = "nominal"
    cladding: str = ""
    thin: bool = False


@dataclass(frozen=True)
class SectionSpec:
    """[[section]]: profile digits, or the text of a coordinates file with its name. Twist and place
    None: on the straight line between the sections that say it."""

    path: Path
    station: float
    chord: float
    profile: str = ""
    coordinates: str = ""
    ordinates: str = field(default="", repr=False)
    twist: float | None = None
    leading_edge_aft: float | None = None
    sweep: float | None = None
    height: float | None = None
    dihedral: float | None = None


@dataclass(frozen=True)
class HoleSpec:
    """[[lightening_hole]] of a rib (chord) or a spar web (station)."""

    path: Path
    diameter: float
    chord: float | None = None
    station: float | None = None
    height: float | None = None


@dataclass(frozen=True)
class RibSpec:
    """[[rib]]: a line on the skin, and with web = true a skin of its own."""

    path: Path
    name: str
    station: float
    from_chord: float = 0.0
    to_chord: float = 100.0
    web: bool = False
    lightening_hole: tuple[HoleSpec, ...] = ()
    alloy: str = ""
    gauge: float | None = None
    gauge_how: str = "nominal"
    cladding: str = ""


@dataclass(frozen=True)
class SparSpec:
    """[[spar]]: a line of constant % chord, and with web = true a skin of its own."""

    path: Path
    name: str
    chord: float
    from_station: float | None = None
    to_station: float | None = None
    web: bool = False
    lightening_hole: tuple[HoleSpec, ...] = ()
    alloy: str = ""
    gauge: float | None = None
    gauge_how: str = "nominal"
    cladding: str = ""


@dataclass(frozen=True)
class StringerSpec:
    """[[stringer]]: straight in plan between its two ends."""

    path: Path
    name: str
    from_station: float
    from_chord: float
    to_station: float
    to_chord: float
    side: str = "both"


@dataclass(frozen=True)
class SeamSpec:
    """[[seam]]: at a station (chordwise) or at a % chord (spanwise), with limits."""

    path: Path
    name: str
    station: float | None = None
    chord: float | None = None
    along: str = ""
    side: str = "both"
    from_station: float | None = None
    to_station: float | None = None
    from_chord: float | None = None
    to_chord: float | None = None


@dataclass(frozen=True)
class RivetRowSpec:
    """[[rivet_row]]: along a named line, or between two ends."""

    path: Path
    name: str
    pitch: float
    along: str = ""
    from_station: float | None = None
    from_chord: float | None = None
    to_station: float | None = None
    to_chord: float | None = None
    offset: float = 0.0
    side: str = "both"


@dataclass(frozen=True)
class LapSpec:
    """[[lap]]: the strip along a named line where two sheets lie on each other."""

    path: Path
    name: str
    along: str
    width: float
    towards: str = "both"
    side: str = "both"


@dataclass(frozen=True)
class OpeningSpec:
    """[[opening]]: a form and a place (station, % chord and side; on a body station and angle; or
    `at` on the flat map)."""

    path: Path
    name: str
    form: str
    station: float | None = None
    chord: float | None = None
    angle: float | None = None
    side: str | None = None
    at: Point | None = None
    diameter: float | None = None
    length: float | None = None
    width: float | None = None
    corner_radius: float = 0.0
    corners: tuple[Point, ...] = ()
    turned: float = 0.0
    skin: str = ""


@dataclass(frozen=True)
class PanelSpec:
    """[[panel]]: names the sheet that a place is in; None where [sheet] decides."""

    path: Path
    name: str
    station: float | None = None
    chord: float | None = None
    angle: float | None = None
    side: str | None = None
    at: Point | None = None
    alloy: str | None = None
    gauge: float | None = None
    gauge_how: str | None = None
    cladding: str | None = None
    thin: bool | None = None
    skin: str = ""


@dataclass(frozen=True)
class HingeSpec:
    """[hinge_line]: two ends on the chord line, and a height above it."""

    from_station: float
    from_chord: float
    to_station: float
    to_chord: float
    height: float = 0.0


@dataclass(frozen=True)
class PartSpec:
    """Everything a part file says. warnings: what can be used but looks wrong.

    own: values of the keys that no other shape has, by name, without those not said. lines, source:
    the file's lines and name, so that later mistakes name them too. parent: the
    part file that `sections_from` or `attachment.part_file` names, read.
    """

    units: str
    part: str
    shape: str
    measured: MeasuredSpec
    side: str = "right"
    note: str = ""
    trailing_edge: str = "closed"
    trailing_edge_base: str = "not counted"
    end_ribs: str = "not counted"
    faces: tuple[str, ...] = ()
    bearings_inside: bool = False
    axis: str = "span"
    datum: float = 0.0
    sections_from: str = ""
    station: float | None = None
    chord: float | None = None
    from_station: float | None = None
    to_station: float | None = None
    from_chord: float = 0.0
    to_chord: float = 100.0
    on_side: str = "upper"
    form: str = ""
    diameter: float | None = None
    length: float | None = None
    width: float | None = None
    corner_radius: float = 0.0
    corners: tuple[Point, ...] = ()
    placement: PlacementSpec | None = None
    attachment: AttachmentSpec | None = None
    sheet: SheetSpec = SheetSpec()
    section: tuple[SectionSpec, ...] = ()
    seam: tuple[SeamSpec, ...] = ()
    rib: tuple[RibSpec, ...] = ()
    spar: tuple[SparSpec, ...] = ()
    stringer: tuple[StringerSpec, ...] = ()
    rivet_row: tuple[RivetRowSpec, ...] = ()
    lap: tuple[LapSpec, ...] = ()
    opening: tuple[OpeningSpec, ...] = ()
    lightening_hole: tuple[HoleSpec, ...] = ()
    panel: tuple[PanelSpec, ...] = ()
    hinge_line: HingeSpec | None = None
    own: Mapping[str, Any] = field(default_factory=dict, hash=False)
    warnings: tuple[Mistake, ...] = ()
    lines: Lines = field(default_factory=lambda: Lines({}), repr=False, compare=False)
    source: str = ""
    folder: FilePath = FilePath()
    parent: PartSpec | None = field(default=None, repr=False)

    @property
    def mirrored(self) -> bool:
        """Whether it is the left-hand part: the mirror image of what the file describes."""
        return self.side == "left"

    def error(self, path: Path, given: str, allowed: str = "", to_do: str = "") -> PartFileError:
        """The error for something found later, when the shape is made, with line and key."""
        from_words = ", ".join(_step(path))
        return PartFileError(
            [Mistake(self.lines.of(path), from_words, given, allowed, to_do)], self.source
        )


_ROWS: dict[str, type] = {
    "section": SectionSpec, "seam": SeamSpec, "rib": RibSpec, "spar": SparSpec,
    "stringer": StringerSpec, "rivet_row": RivetRowSpec, "lap": LapSpec, "opening": OpeningSpec,
    "lightening_hole": HoleSpec, "panel": PanelSpec,
}  # fmt: skip
_SINGLE: dict[str, type] = {
    "measured": MeasuredSpec, "placement": PlacementSpec, "attachment": AttachmentSpec,
    "sheet": SheetSpec, "hinge_line": HingeSpec,
}  # fmt: skip

T = TypeVar("T")


def _step(path: Path) -> list[str]:
    words: list[str] = []
    for step in path:
        if isinstance(step, int):
            words[-1] += f" {step + 1}"
        else:
            words.append(step)
    return words


def _made(cls: type[T], row: Mapping[str, Any]) -> T:
    names = {f.name for f in fields(cls)}  # type: ignore[arg-type]
    values = {k: _deep(k, v) for k, v in row.items() if k in names}
    return cls(**values)


def _deep(name: str, value: Any) -> Any:
    if name in _ROWS and isinstance(value, tuple):
        return tuple(_made(_ROWS[name], row) for row in value)
    if name in _SINGLE and isinstance(value, Mapping):
        return _made(_SINGLE[name], value)
    return value


def spec_from(values: Mapping[str, Any], **more: Any) -> PartSpec:
    """The PartSpec of checked values (as `checked` gives them, without a mistake left)."""
    flat = {k: v for k, v in values.items() if k != "stations"} | dict(values.get("stations", {}))
    shape = SHAPES.get(str(flat.get("shape")))
    own = {k.name: flat[k.name] for k in shape.keys if k.name in flat} if shape else {}
    return _made(PartSpec, flat | {"own": MappingProxyType(own)} | more)
