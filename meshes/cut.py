"""Control surfaces: pieces cut out of a wing's sections, with a nose of their own.

A flap, aileron, elevator, rudder or tab begins where the wing's section is cut square to its chord
line, and gets a nose there: an arc of a circle through both edges of the cut, or a flat front. A
slat is the front of the wing's section itself, as far as its two edges reach.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from meshes.check import between, number
from meshes.curves import Curve, Segment
from meshes.errors import ShapeError
from meshes.loft import LoftPlan
from meshes.patch import Array
from meshes.profile import plane_sheet
from meshes.ruled import RuledPatch
from meshes.sampling import parameters, polygon_points
from meshes.shape import Join, Sheet

# The nose of a cut section is its |s| up to here; behind it comes the wing's own surface.
NOSE = 0.25
NOSES = ("round", "flat")
# A radius may fall short of half the height by this share: a person rounds what they measure.
ROUNDING = 1e-6


@dataclass(frozen=True, eq=False)
class CutCurve:
    """A section in a plane y = const cut at its s = low (lower side) and s = high (upper side).

    s = 0 is the middle of the new nose, |s| = NOSE its two edges; beyond, |s| up to 1 runs along
    `base` to its s = tail_low and tail_high. radius: mm of the nose's arc, 0 for a flat front.
    """

    base: Curve
    low: float
    high: float
    tail_low: float
    tail_high: float
    radius: float

    @cached_property
    def _nose(self) -> tuple[Array, Array, Array, float, float]:
        """Middle of the cut, unit vectors up it and forward, half its height, half angle."""
        lower, upper = self.base.at(np.array([self.low, self.high]))
        half = 0.5 * float(np.linalg.norm(upper - lower))
        up = (upper - lower) / (2.0 * half)
        fore = np.array([-up[2], 0.0, up[0]])
        angle = math.asin(min(1.0, half / self.radius)) if self.radius > 0.0 else 0.0
        return 0.5 * (lower + upper), up, fore, half, angle

    @cached_property
    def kinks(self) -> Array:
        inner = self.base.kinks
        share = 1.0 - NOSE
        upper = inner[(inner > self.high + 1e-9) & (inner < self.tail_high - 1e-9)]
        lower = inner[(inner < self.low - 1e-9) & (inner > self.tail_low + 1e-9)]
        upper = NOSE + share * (upper - self.high) / (self.tail_high - self.high)
        lower = -NOSE - share * (lower - self.low) / (self.tail_low - self.low)
        result = np.concatenate([lower, [-NOSE, 0.0, NOSE], upper])
        result.setflags(write=False)
        return result

    def _behind(self, s: Array) -> tuple[Array, Array]:
        """The base's s behind the nose, and its derivative by our s."""
        up = s >= 0.0
        start = np.where(up, self.high, self.low)
        rise = np.where(up, self.tail_high, self.tail_low) - start
        share = (np.abs(s) - NOSE) / (1.0 - NOSE)
        return start + share * rise, np.where(up, 1.0, -1.0) * rise / (1.0 - NOSE)

    def at(self, s: ArrayLike) -> Array:
        """Points (..., 3) mm at s (...)."""
        p = np.asarray(s, dtype=np.float64)
        middle, up, fore, half, angle = self._nose
        u = (np.clip(p, -NOSE, NOSE) / NOSE)[..., None]
        if self.radius > 0.0:
            centre = middle - self.radius * math.cos(angle) * fore
            nose = centre + self.radius * (np.cos(angle * u) * fore + np.sin(angle * u) * up)
        else:
            nose = middle + half * u * up
        behind = self.base.at(self._behind(np.where(np.abs(p) > NOSE, p, NOSE))[0])
        return np.asarray(np.where((np.abs(p) > NOSE)[..., None], behind, nose))

    def d(self, s: ArrayLike) -> Array:
        """Derivative (..., 3) of `at` by s (...); at an edge of the nose that of the nose."""
        p = np.asarray(s, dtype=np.float64)
        _, up, fore, half, angle = self._nose
        u = (np.clip(p, -NOSE, NOSE) / NOSE)[..., None]
        if self.radius > 0.0:
            turn = self.radius * angle / NOSE
            nose = turn * (np.cos(angle * u) * up - np.sin(angle * u) * fore)
        else:
            nose = half / NOSE * up + 0.0 * u
        q, rate = self._behind(np.where(np.abs(p) > NOSE, p, NOSE))
        behind = self.base.d(q) * rate[..., None]
        return np.asarray(np.where((np.abs(p) > NOSE)[..., None], behind, nose))

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the curve."""
        return {
            "format": "cut curve/1",
            "base": self.base.to_dict(),
            "low": self.low,
            "high": self.high,
            "tail_low": self.tail_low,
            "tail_high": self.tail_high,
            "radius": self.radius,
        }


@dataclass(frozen=True)
class CutPlan(LoftPlan):
    """A control surface: `sections` are the wing's; answers at stations as a loft does.

    from_station, to_station: its ends, mm. from_chord, tip_from_chord: % chord of the wing where
    the cut is at the two ends (tip None: as the other), straight between; 0 makes a slat, which
    ends at to_chord above and lower_to_chord below. nose: "round" or "flat". nose_radius,
    tip_nose_radius: mm at the two ends (None: half the height of the cut, a half circle),
    straight between. The cut is square to the wing's chord line.

    Lines are straight from end to end, and from each of the wing's sections between. Places have
    the % chord of the control surface's own section, 0 at the middle of its nose; those of a slat
    the wing's, because its two edges lie at different places. ShapeError naming the parameter.
    """

    from_station: float = 0.0
    to_station: float = 0.0
    from_chord: float = 0.0
    to_chord: float = 100.0
    tip_from_chord: float | None = None
    lower_to_chord: float | None = None
    nose: str = "round"
    nose_radius: float | None = None
    tip_nose_radius: float | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        first, last = (float(s.station) for s in (self.sections[0], self.sections[-1]))
        between("from_station", self.from_station, first, last, unit="mm")
        between("to_station", self.to_station, first, last, unit="mm")
        if not self.from_station < self.to_station:
            raise ShapeError(
                "to_station",
                f"{self.to_station:g} mm was given after from_station {self.from_station:g} mm.",
                "It must lie outboard of from_station.",
            )
        if self.nose not in NOSES:
            raise ShapeError("nose", f"{self.nose!r} was given.", f"{' or '.join(NOSES)}.")
        low = between("from_chord", self.from_chord, 0.0, 99.0, unit="% chord")
        high = between("to_chord", self.to_chord, 1.0, 100.0, unit="% chord")
        tip = low if self.tip_from_chord is None else self.tip_from_chord
        between("tip_from_chord", tip, 0.0, 99.0, unit="% chord")
        for name, value in (("to_chord", low), ("tip_from_chord", tip)):
            if not value < high:
                raise ShapeError(
                    name,
                    f"It is cut at {value:g} % chord and ends at {high:g} % chord.",
                    "The end must lie aft of the cut.",
                    "Exchange or correct them.",
                )
        if (low == 0.0) != (tip == 0.0):
            raise ShapeError(
                "tip_from_chord",
                f"It begins at {low:g} % chord inboard and at {tip:g} % chord outboard.",
                "0 at both ends (a slat) or at neither is allowed.",
            )
        if self.lower_to_chord is not None:
            between("lower_to_chord", self.lower_to_chord, 0.1, 99.0, unit="% chord")
        for name in ("nose_radius", "tip_nose_radius"):
            if getattr(self, name) is not None:
                between(name, getattr(self, name), 0.0, 1e5, unit="mm")

    @property
    def slat(self) -> bool:
        """Whether it is the front of the wing's section and has no nose of its own."""
        return self.from_chord == 0.0

    @cached_property
    def parent(self) -> LoftPlan:
        """The wing it is cut from."""
        return LoftPlan(self.sections, self.datum)

    @cached_property
    def _cuts(self) -> tuple[float, ...]:
        inner = [float(s.station) for s in self.sections]
        inner = [s for s in inner if self.from_station < s < self.to_station]
        return (float(self.from_station), *inner, float(self.to_station))

    @property
    def stations(self) -> tuple[float, ...]:
        """Stations of its ends and of the wing's sections between them, mm."""
        return self._cuts

    @cached_property
    def patches(self) -> tuple[RuledPatch, ...]:
        """One ruled patch from each of `stations` to the next."""
        if self.slat:
            return self._front()
        cut = [self._cut(station) for station in self.stations]
        return tuple(RuledPatch(a, b, float(self.datum)) for a, b in pairwise(cut))

    def _front(self) -> tuple[RuledPatch, ...]:
        """The wing's own patches between two s, which have the wanted % chord at mid span."""
        middle, t = self.parent.locate(0.5 * (self.from_station + self.to_station))
        lower = self.to_chord if self.lower_to_chord is None else self.lower_to_chord
        low = float(middle.s_at_chord(t, lower, False))
        high = float(middle.s_at_chord(t, self.to_chord, True))
        patches = []
        for a, b in pairwise(self.stations):
            patch, _ = self.parent.locate(0.5 * (a + b))
            ends = [float(patch.t_at_station(station)) for station in (a, b)]
            patches.append(patch.trimmed(low, high, ends[0], ends[1]))
        return tuple(patches)

    def _share(self, station: float) -> float:
        return (station - self.from_station) / (self.to_station - self.from_station)

    def _cut(self, station: float) -> CutCurve:
        patch, t = self.parent.locate(station)
        w = self._share(station)
        tip = self.from_chord if self.tip_from_chord is None else self.tip_from_chord
        chord = (1.0 - w) * self.from_chord + w * tip
        high, low = (float(patch.s_at_chord(t, chord, upper)) for upper in (True, False))
        ends = [float(patch.s_at_chord(t, self.to_chord, upper)) for upper in (True, False)]
        base = patch.curve_at(t)
        edges = base.at(np.array([low, high]))
        half = 0.5 * float(np.linalg.norm(edges[1] - edges[0]))
        return CutCurve(base, low, high, ends[1], ends[0], self._radius(w, half))

    def _radius(self, w: float, half: float) -> float:
        """The nose's radius at a share w of the way out, where the cut is 2 half high; mm."""
        if self.nose == "flat":
            return 0.0
        if self.nose_radius is None and self.tip_nose_radius is None:
            return half
        root = self.tip_nose_radius if self.nose_radius is None else self.nose_radius
        tip = self.nose_radius if self.tip_nose_radius is None else self.tip_nose_radius
        radius = (1.0 - w) * number("nose_radius", root) + w * number("tip_nose_radius", tip)
        if radius < half * (1.0 - ROUNDING):
            name = "tip_nose_radius" if w > 0.5 and self.tip_nose_radius else "nose_radius"
            raise ShapeError(
                name,
                f"An arc of {radius:g} mm does not reach both edges of a cut {2 * half:.4g} mm"
                " high.",
                f"{half:.4g} mm or more is allowed there.",
                'Leave it out for a half circle, or say nose = "flat".',
            )
        return max(radius, half)


def control_surface(
    plan: CutPlan, *, end_plates: bool = False, open_base: bool = False
) -> tuple[Sheet, ...]:
    """The sheets of a control surface: "skin", and when asked "base" and two end plates.

    The skin runs from the lower trailing edge round the nose to the upper one, faces outer and
    inner. open_base: the strip between its two after edges as a sheet of its own. end_plates: the
    two ends as flat sheets, "inboard end plate" and "outboard end plate". ShapeError naming
    `open_base` where the trailing edge is closed.
    """
    patches = plan.patches
    sheets = [Sheet("skin", ("outer", "inner"), patches, _chain(len(patches)))]
    if open_base:
        sheets.append(_base(plan))
    if end_plates:
        for patch, t, name in (
            (patches[0], 0.0, "inboard end plate"),
            (patches[-1], 1.0, "outboard end plate"),
        ):
            sheets.append(end_plate(patch, t, name))
    return tuple(sheets)


def _chain(count: int) -> tuple[Join, ...]:
    return tuple(Join(i, "t1", i + 1, "t0") for i in range(count - 1))


def _base(plan: CutPlan) -> Sheet:
    lines = []
    first = plan.patches[0]
    for curve in (first.curve0, *(patch.curve1 for patch in plan.patches)):
        lower, upper = curve.at(np.array([first.low, first.high]))
        if float(np.linalg.norm(upper - lower)) < 1e-6:
            raise ShapeError(
                "open_base",
                "The trailing edge is closed.",
                "A base needs an open trailing edge.",
                "Use open sections or leave the base out.",
            )
        lines.append(Segment(upper, lower))
    patches = tuple(RuledPatch(a, b, float(plan.datum), chorded=False) for a, b in pairwise(lines))
    return Sheet("base", ("outer", "inner"), patches, _chain(len(patches)))


def end_plate(patch: RuledPatch, t: float, name: str) -> Sheet:
    """The whole section of a patch at t as one flat sheet, closed by a straight line behind.

    Faces: outboard and inboard. Flat frame: origin at the leading edge, x aft along the chord line.
    """
    lead, tail = patch.chord_line(t)
    size = float(np.linalg.norm(tail))
    aft = tail / size
    up = np.array([-aft[2], 0.0, aft[0]])
    curve = patch.curve_at(t)

    def plane(s: Array) -> Array:
        rest = curve.at(s) - lead
        return np.stack([rest @ aft, rest @ up], axis=-1)

    outline = polygon_points(plane, parameters(plane, patch.s_lines))
    return plane_sheet(
        name,
        ("outboard", "inboard"),
        outline,
        lead,
        (aft, up),
        (float(patch.station(0.0, t)), 0.0, 0.0),
        (0.0, 100.0 / size, 0.0),
    )
