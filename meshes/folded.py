"""Brackets, bell cranks and fork straps: a flat pattern with flanges bent up along straight edges.

The sheet is its neutral surface, which neither stretches nor shrinks in bending: the flat pattern
is its development, and its parameters are mm on the pattern. A flange stands on an edge of the
base: first the bend, an arc of the neutral radius, then its flat. Bend allowance (length of the
arc): angle (radius + K gauge) with K = .0078 / .01743, the usual (.01743 R + .0078 T) a degree
(shop rule; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import between, number, positive, read_only, ring
from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.plane import PlanePatch
from meshes.shape import Sheet
from meshes.simple import simple_ring

NEUTRAL = 0.0078 / 0.01743


@dataclass(frozen=True)
class Flange:
    """A flange on edge number `edge` of the base (from its corner of that number to the next).

    length: mm of flat beyond the bend. angle: degrees of bend, positive towards the second (inner)
    face. radius: inside bend radius, mm. round_end: it ends in a half circle instead of square.
    """

    edge: int
    length: float
    angle: float = 90.0
    radius: float = 0.0
    round_end: bool = False


def allowance(angle: float, radius: float, gauge: float) -> float:
    """Length (mm) of the bend's neutral line: degrees, inside radius and gauge in mm."""
    return abs(math.radians(angle)) * (radius + NEUTRAL * gauge)


@dataclass(frozen=True, eq=False)
class FoldedPatch(PlanePatch):
    """A plane whose flanges are bent up: origin + s e1 + t e2 on the base, s and t mm on the flat.

    base: (K, 2) counter-clockwise corners. bends (J, 4): edge number, bend angle (radians, towards
    e1 x e2), neutral radius and bend allowance, mm. The first face looks along -(e1 x e2).
    """

    base: Array = field(default_factory=lambda: np.zeros((0, 2)))
    bends: Array = field(default_factory=lambda: np.zeros((0, 4)))

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "base", read_only(self.base))
        object.__setattr__(self, "bends", read_only(self.bends))

    @cached_property
    def _edges(self) -> list[tuple[Array, Array, Array, float, float, float, float]]:
        """Start, unit along, unit outward (flat), length, angle, neutral radius, allowance."""
        found = []
        for number_, angle, radius, run in self.bends.tolist():
            a, b = self.base[int(number_)], self.base[(int(number_) + 1) % len(self.base)]
            size = float(np.linalg.norm(b - a))
            along = (b - a) / size
            found.append((a, along, np.array([along[1], -along[0]]), size, angle, radius, run))
        return found

    def _folded(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array, Array]:
        """In-plane place (..., 2) and height (...) mm, and how far the sheet is turned up there."""
        u, v = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        flat = np.stack([u, v], axis=-1)
        place, height, turn = flat.copy(), np.zeros(u.shape), np.zeros(u.shape)
        for start, along, out, size, angle, radius, run in self._edges:
            d = (flat - start) @ out
            on = self._on(flat, start, along, size, d)
            bend = np.clip(d / run, 0.0, 1.0) * angle
            rest = np.maximum(d - run, 0.0)
            sign = math.copysign(1.0, angle)
            reach = radius * np.sin(np.abs(bend)) + rest * np.cos(bend)
            rise = sign * radius * (1.0 - np.cos(bend)) + rest * np.sin(bend)
            moved = flat + ((reach - d)[..., None]) * out
            place = np.where(on[..., None], moved, place)
            height, turn = np.where(on, rise, height), np.where(on, bend, turn)
        return place, height, turn

    @staticmethod
    def _on(flat: Array, start: Array, along: Array, size: float, d: Array) -> Any:
        run = (flat - start) @ along
        return (d > 0.0) & (run >= -1e-6) & (run <= size + 1e-6)

    def at(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Points (..., 3) mm at s, t (broadcast)."""
        place, height, _ = self._folded(s, t)
        up = np.cross(self.e1, self.e2)
        return np.asarray(
            self.origin
            + place[..., :1] * self.e1
            + place[..., 1:] * self.e2
            + height[..., None] * up
        )

    def partials(self, s: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
        """dP/ds and dP/dt (..., 3): unit vectors at right angles everywhere."""
        u, v = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        flat = np.stack([u, v], axis=-1)
        up = np.cross(self.e1, self.e2)
        by = [np.broadcast_to(e, (*u.shape, 3)).copy() for e in (self.e1, self.e2)]
        _, _, turn = self._folded(u, v)
        for start, along, out, size, *_ in self._edges:
            on = self._on(flat, start, along, size, (flat - start) @ out)
            edge, away = (w[0] * self.e1 + w[1] * self.e2 for w in (along, out))
            bent = np.cos(turn)[..., None] * away + np.sin(turn)[..., None] * up
            for k in range(2):
                by[k] = np.where(on[..., None], along[k] * edge + out[k] * bent, by[k])
        return by[0], by[1]

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        record = super().to_dict() | {"base": self.base, "bends": self.bends}
        return record | {"format": "folded/1"}


def folded(
    base: ArrayLike,
    flanges: Sequence[Flange],
    gauge: float,
    *,
    name: str = "bracket",
    face_names: tuple[str, ...] = ("outer", "inner"),
    datum: float = 0.0,
    frame: tuple[Array, Array, Array] | None = None,
    holes: Sequence[ArrayLike] = (),
) -> tuple[Sheet, ...]:
    """One sheet of a base with flanges. base (K, 2): corners (outboard, aft) mm, counter-clockwise
    or clockwise; edges are counted from the first corner as given. gauge: mm.

    Its flat map is the flat pattern, in the base's own mm. frame: origin, e1, e2 in the part's
    frame, for base in z = 0 as a plate lies if None. holes: rings on the flat pattern. ShapeError
    naming corners, gauge, `flanges[i].field`, or `flanges` where the pattern overlaps itself.
    """
    number("datum", datum)
    positive("gauge", gauge)
    given = np.array(base, dtype=np.float64)
    edge = simple_ring("corners", given)
    if len(edge) != len(given):
        raise ShapeError(
            "corners", "A corner repeats another.", "Different corners are allowed.", "Take it out."
        )
    turned = not np.array_equal(edge, given)
    count = len(edge)
    found: dict[int, Flange] = {}
    for i, flange in enumerate(flanges):
        where = f"flanges[{i}]"
        if not (isinstance(flange.edge, int) and 0 <= flange.edge < count):
            raise ShapeError(
                f"{where}.edge", f"{flange.edge} was given.", f"0 to {count - 1} is allowed."
            )
        positive(f"{where}.length", flange.length)
        between(f"{where}.radius", flange.radius, 0.0, 1e4, unit="mm")
        between(f"{where}.angle", flange.angle, -175.0, 175.0, unit="degrees")
        if abs(flange.angle) < 1.0:
            raise ShapeError(
                f"{where}.angle", f"{flange.angle:g} degrees were given.", "1 or more is a bend."
            )
        # Turned round, edge k from corner k to k + 1 is the edge from corner K - 2 - k.
        index = (count - 2 - flange.edge) % count if turned else flange.edge
        if index in found:
            raise ShapeError(
                f"{where}.edge", f"Edge {flange.edge} has a flange already.", "One is allowed."
            )
        found[index] = flange
    bends, outline = _pattern(edge, found, gauge)
    try:
        outline = ring("flanges", simple_ring("flanges", outline))
    except ShapeError as error:
        raise ShapeError(
            "flanges",
            "Laid flat, the flanges overlap each other or the base.",
            "Flanges that lie apart on the flat pattern are allowed.",
            "Make them shorter, or shorten the edges they stand on.",
        ) from error
    origin, e1, e2 = frame or (
        np.zeros(3),
        np.array([0.0, 1.0, 0.0]),
        np.array([1.0, 0.0, 0.0]),
    )
    (s0, t0), (s1, t1) = outline.min(axis=0), outline.max(axis=0)
    patch = FoldedPatch(
        origin,
        e1,
        e2,
        (float(s0), float(s1), float(t0), float(t1)),
        (float(datum), 1.0, 0.0),
        None,
        edge,
        np.array(bends).reshape(-1, 4),
    )
    rings = tuple(simple_ring("holes", hole) for hole in holes)
    return (Sheet(name, face_names, (patch,), (), outline, rings),)


def _pattern(
    edge: Array, flanges: dict[int, Flange], gauge: float
) -> tuple[list[tuple[float, float, float, float]], Array]:
    """The bends, and the outline (K, 2) of the flat pattern."""
    bends: list[tuple[float, float, float, float]] = []
    points: list[Array] = []
    for k in range(len(edge)):
        a, b = edge[k], edge[(k + 1) % len(edge)]
        points.append(a)
        flange = flanges.get(k)
        if flange is None:
            continue
        run = allowance(flange.angle, flange.radius, gauge)
        radius = flange.radius + NEUTRAL * gauge
        bends.append((float(k), math.radians(flange.angle), radius, run))
        along = (b - a) / np.linalg.norm(b - a)
        out = np.array([along[1], -along[0]])
        half = 0.5 * float(np.linalg.norm(b - a))
        straight = run + flange.length - (half if flange.round_end else 0.0)
        if flange.round_end and flange.length < half:
            raise ShapeError(
                "flanges",
                f"A flange {flange.length:g} mm long and {2 * half:g} mm wide was given.",
                "A round end needs half the width at least.",
            )
        points.append(a + straight * out)
        if flange.round_end:
            points += _half_circle(0.5 * (a + b) + straight * out, along, out, half)
        points.append(b + straight * out)
    return bends, np.array(points)


def _half_circle(centre: Array, along: Array, out: Array, radius: float) -> list[Array]:
    """Inner points of a half circle from -along over out to along, of the sector's exact area."""
    count = 180
    step = math.pi / count
    n = float(count - 2)
    # As `meshes.outline.rectangle_ring`: the ends stay, inner points lie a little outside.
    target = 0.5 * math.pi / (0.5 * math.sin(step))
    grow = (-1.0 + math.sqrt(1.0 + n * target)) / n
    turn = step * np.arange(1, count)
    return [
        centre + radius * grow * (-math.cos(a) * along + math.sin(a) * out) for a in turn.tolist()
    ]
