"""The display list: one drawing as flat, frozen items that every pen draws alike.

All coordinates and text sizes are flat mm of the skin's flat map. A `View` says how the flat plane
is turned on paper; pens turn points by it and never turn text. Widths, dashes and hatch gaps of the
style are mm on paper: times `scale` they are flat mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError

Array = NDArray[np.float64]

LAYERS = (
    "sheet", "unseen", "grid", "laps", "regions", "structure", "openings", "outline", "points",
    "names", "numbers", "labels", "bar", "legend", "title",
)  # fmt: skip
# What belongs to the sheet itself; the rest is furniture round it, and stays off a texture.
TEXTURE_LAYERS = frozenset(LAYERS) - {"labels", "bar", "legend", "title"}


def points_array(points: ArrayLike, what: str) -> Array:
    """A read-only (K, 2) float array of finite numbers; MapperError otherwise."""
    array = np.array(points, dtype=float, copy=True)
    if array.ndim != 2 or array.shape[1] != 2 or not np.isfinite(array).all():
        raise MapperError(
            f"{what} has points of shape {array.shape}.", "Finite points of shape (K, 2) are drawn."
        )
    array.flags.writeable = False
    return array


@dataclass(frozen=True)
class View:
    """How the flat plane lies on paper: x = +1 draws flat x to the right, y = +1 draws flat y up.

    words: what a reader must know about it ("seen from outside").
    """

    x: int = 1
    y: int = 1
    words: str = ""

    def turn(self, points: ArrayLike) -> Array:
        """(K, 2) flat mm to mm to the right and up on paper; the same call turns back."""
        return np.asarray(points, dtype=float) * np.array([self.x, self.y], dtype=float)


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line through points (K, 2), closed or not, drawn with the token's line, width and dash."""

    points: Array
    style: str
    layer: str
    closed: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", points_array(self.points, f"Stroke {self.style!r}"))


@dataclass(frozen=True, eq=False)
class Fill:
    """A polygon or multipolygon filled with the token's fill and opacity."""

    shape: BaseGeometry
    style: str
    layer: str


@dataclass(frozen=True, eq=False)
class Hatch:
    """Line pieces (K, 2, 2), already clipped to what they hatch; width mm on paper."""

    lines: Array
    style: str
    layer: str
    width: float

    def __post_init__(self) -> None:
        lines = np.array(self.lines, dtype=float, copy=True)
        if lines.ndim != 3 or lines.shape[1:] != (2, 2) or not np.isfinite(lines).all():
            raise MapperError(
                f"Hatch {self.style!r} has lines of shape {lines.shape}.",
                "Finite line pieces of shape (K, 2, 2) are drawn.",
            )
        lines.flags.writeable = False
        object.__setattr__(self, "lines", lines)


@dataclass(frozen=True)
class Label:
    """Text centred in height on `at`; anchor "start", "middle" or "end" along its own direction.

    size: font size in flat mm. angle: degrees as seen on paper. halo: a rim of paper colour behind.
    """

    text: str
    at: tuple[float, float]
    size: float
    style: str
    layer: str
    angle: float = 0.0
    anchor: str = "middle"
    bold: bool = False
    halo: bool = False


@dataclass(frozen=True)
class Dot:
    """A mark of readable size (flat mm) at a point, whatever the size of what it stands for."""

    at: tuple[float, float]
    size: float
    mark: str
    style: str
    layer: str


Item = Stroke | Fill | Hatch | Label | Dot


@dataclass(frozen=True)
class LegendRow:
    """One line of the legend: what is drawn with that style, how often (0: not counted).

    sample: whether it is shown as an "area", a "line" or a "point".
    """

    text: str
    style: str
    count: int = 0
    sample: str = "area"


@dataclass(frozen=True, eq=False)
class DisplayList:
    """One drawing of one face of one skin.

    bounds: (x0, y0, x1, y1) flat mm of all that is drawn, furniture included; sheet_bounds: of the
    skin alone (the extent of a texture). scale: flat mm per mm on paper. numbers: entry id -> the
    short number drawn at it. description: the drawing in words, for those who cannot see it.
    """

    items: tuple[Item, ...]
    bounds: tuple[float, float, float, float]
    sheet_bounds: tuple[float, float, float, float]
    scale: float
    view: View = field(default_factory=View)
    title: str = ""
    face: str = ""
    description: str = ""
    legend: tuple[LegendRow, ...] = ()
    numbers: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        for name in ("bounds", "sheet_bounds"):
            x0, y0, x1, y1 = getattr(self, name)
            if not (np.isfinite([x0, y0, x1, y1]).all() and x1 > x0 and y1 > y0):
                raise MapperError(
                    f"A drawing has {name} {getattr(self, name)}.",
                    "They are finite, x0 below x1 and y0 below y1.",
                )
        if not (np.isfinite(self.scale) and self.scale > 0):
            raise MapperError(f"A drawing has the scale {self.scale}.", "It is above 0.")
        object.__setattr__(self, "numbers", MappingProxyType(dict(self.numbers)))

    @property
    def paper(self) -> tuple[float, float]:
        """Width and height on paper at the drawing's own scale, mm."""
        x0, y0, x1, y1 = self.bounds
        return (x1 - x0) / self.scale, (y1 - y0) / self.scale

    def on(self, layers: Iterable[str] | None) -> tuple[Item, ...]:
        """The items on these layers (None: all), in drawing order; MapperError on unknown names."""
        if layers is None:
            return self.items
        wanted = frozenset(layers)
        if unknown := wanted - set(LAYERS):
            raise MapperError(
                f"No layer {', '.join(sorted(unknown))}.", f"Layers are {', '.join(LAYERS)}."
            )
        return tuple(item for item in self.items if item.layer in wanted)
