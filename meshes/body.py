"""Fuselages, cowlings, nacelles and fillets: cross-sections in planes x = const, joined straight.

Straight lines join points of equal s of neighbouring cross-sections (`meshes.rings`). A place on
such a body has its station, along x, and the angle round: degrees from the top about the middle of
its own cross-section, outboard first (90 is outboard, 180 the bottom, 270 inboard).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from meshes.check import number
from meshes.curves import Blend, Curve
from meshes.errors import ShapeError
from meshes.patch import Array
from meshes.profile import plane_sheet
from meshes.rings import Ring
from meshes.ruled import RuledPatch
from meshes.sampling import parameters, polygon_points
from meshes.shape import Join, Sheet

_Miss = Callable[[Array], tuple[Array, Array]]
_Flags = NDArray[np.bool_]


def centre_of(curve: Curve) -> Array | None:
    """(y, z) mm of the middle a ring's angles are measured about; None for an open one."""
    if isinstance(curve, Blend):
        first, second = centre_of(curve.first), centre_of(curve.second)
        if first is None or second is None:
            return None
        return (1.0 - curve.t) * first + curve.t * second
    found = getattr(curve, "centre", None)
    return None if found is None else np.array(found, dtype=np.float64)


def signed_angle(y: Array, z: Array, s: Array) -> Array:
    """Degrees from the top, outboard (s < 0) positive, -180 to 180; the bottom by the sign of s."""
    found = np.degrees(np.arctan2(y, z))
    found = np.where((s > 0.0) & (found > 90.0), found - 360.0, found)
    found = np.where((s < 0.0) & (found < -90.0), found + 360.0, found)
    return np.where(s == 0.0, 0.0, np.where(np.abs(s) == 1.0, -180.0 * s, found))


@dataclass(frozen=True, eq=False)
class BodyPatch(RuledPatch):
    """P(s, t) = (1 - t) C0(s) + t C1(s) between two rings, curve1 further aft; never chorded.

    datum: mm added to x to give the station.
    """

    chorded: bool = False

    @cached_property
    def length(self) -> float:
        """Distance between the planes of the two rings, mm."""
        return float(self.curve1.at(0.0)[0] - self.curve0.at(0.0)[0])

    @cached_property
    def _ends(self) -> tuple[float, float]:
        start = float(self.curve0.at(0.0)[0]) + self.datum
        return start, start + self.length

    @cached_property
    def _centres(self) -> tuple[Array, Array] | None:
        first, second = centre_of(self.curve0), centre_of(self.curve1)
        return None if first is None or second is None else (first, second)

    @property
    def round(self) -> bool:
        """Whether places have an angle round: a closed ring has, a fillet has not."""
        return self._centres is not None

    def middle(self, t: ArrayLike) -> Array:
        """(..., 2) y and z mm of the middle the angle goes round; NaN where the ring is open."""
        w = np.asarray(t, dtype=np.float64)[..., None]
        if self._centres is None:
            return np.full((*w.shape[:-1], 2), np.nan)
        first, second = self._centres
        return np.asarray((1.0 - w) * first + w * second)

    def _signed(self, s: Array, t: Array) -> Array:
        """The angle round (...), -180 to 180 degrees; NaN where the ring is open."""
        y, z = self._about(s, t)
        return signed_angle(y, z, s) if self.round else y

    def _about(self, s: Array, t: Array) -> tuple[Array, Array]:
        """y and z (...) mm from the middle the angle goes round; NaN where the ring is open."""
        if self._centres is None:
            return np.full(s.shape, np.nan), np.full(s.shape, np.nan)
        first, second = self._centres
        rest = self.at(s, t)[..., 1:] - ((1.0 - t[..., None]) * first + t[..., None] * second)
        return rest[..., 0], rest[..., 1]

    def angle(self, s: ArrayLike, t: ArrayLike) -> Array:
        """Angle round (...), 0 to 360 degrees; NaN where the ring is open."""
        s, t = np.broadcast_arrays(np.asarray(s, dtype=np.float64), np.asarray(t, dtype=np.float64))
        found = self._signed(s, t)
        return np.where(found < 0.0, found + 360.0, found)

    def s_at_angle(self, t: ArrayLike, angle: ArrayLike) -> Array:
        """s (...) of angles round (degrees, any turn) at t; inputs broadcast.

        180 gives s = 1 (the other side of the cut at the bottom is s = -1). NaN where the ring is
        open or s outside low..high. The angle falls all the way from s = -1 to 1 (the body's
        constructor sees to that), so halving the interval cannot fail.
        """
        t, angle = np.broadcast_arrays(
            np.asarray(t, dtype=np.float64), np.asarray(angle, dtype=np.float64)
        )
        if not self.round:
            return np.full(t.shape, np.nan)
        wanted = np.mod(angle + 180.0, 360.0) - 180.0

        def miss(s: Array) -> tuple[Array, Array]:
            y, z = self._about(s, t)
            by_s = self.along_s(s, t)
            turning = np.degrees((z * by_s[..., 1] - y * by_s[..., 2]) / (y * y + z * z))
            return wanted - signed_angle(y, z, s), -turning

        return self._solve(t, miss, (-1.0, 1.0), -wanted / 180.0, np.isfinite(wanted))

    def s_at_height(self, t: ArrayLike, height: ArrayLike, outboard: bool) -> Array:
        """s (...) where the surface is at z = height (mm) on its outboard or inboard half; NaN
        where it is not. Top and bottom are where z is greatest and least on s = 0 and s = -1, 1."""
        t, height = np.broadcast_arrays(
            np.asarray(t, dtype=np.float64), np.asarray(height, dtype=np.float64)
        )
        end = -1.0 if outboard else 1.0
        bottom, top = (
            self.at(np.full(t.shape, end), t)[..., 2],
            self.at(np.zeros(t.shape), t)[..., 2],
        )
        known = (height >= bottom) & (height <= top)
        sign = 1.0 if outboard else -1.0

        def miss(s: Array) -> tuple[Array, Array]:
            return sign * (self.at(s, t)[..., 2] - height), sign * self.along_s(s, t)[..., 2]

        ends = (-1.0, 0.0) if outboard else (0.0, 1.0)
        return self._solve(t, miss, ends, np.full(t.shape, 0.5 * sum(ends)), known)

    def _solve(
        self, t: Array, miss: _Miss, ends: tuple[float, float], s: Array, known: _Flags
    ) -> Array:
        """s (...) between the ends where `miss`, which grows with s, is 0, from a first guess; NaN
        where not known. Newton's steps, kept between bounds that close in."""
        a, b = np.full(t.shape, ends[0]), np.full(t.shape, ends[1])
        s = np.where(known, np.clip(s, *ends), ends[0])
        for _ in range(80):
            value, slope = miss(s)
            over = value >= 0.0
            a, b = np.where(over, a, s), np.where(over, s, b)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = s - value / slope
            inside = (step >= a) & (step <= b)
            following = np.where(inside, step, 0.5 * (a + b))
            # Steps of a last digit or two would go to and fro for ever.
            done = (np.abs(following - s) <= 5e-16) | ~known
            s = following
            if np.all(done):
                break
        off = (s < self.low - 1e-12) | (s > self.high + 1e-12) | ~known
        return np.where(off, np.nan, np.clip(s, self.low, self.high))

    def trimmed(self, low: float, high: float, t0: float, t1: float) -> BodyPatch:
        """The piece s low..high, t0..t1 as a patch of its own (its t runs 0..1 again)."""
        return BodyPatch(self.curve_at(t0), self.curve_at(t1), self.datum, False, low, high)

    def to_dict(self) -> dict[str, Any]:
        """A record from which `meshes.records` rebuilds the patch."""
        return {**super().to_dict(), "format": "body/1"}


def body(
    rings: Sequence[Ring], *, datum: float = 0.0, front: bool = False, aft: bool = False
) -> tuple[Sheet, ...]:
    """The sheets of a body: "skin", and when asked the flat "front end" and "aft end".

    rings: from forward to aft, two or more, all closed or all open. Faces: outer and inner. Each
    interval is one patch; a closed body is cut along the bottom, where the cut is joined again.
    Flat frame: origin at the top of the first ring, x aft along the top line, y towards inboard.
    ShapeError naming `sections[i].field` or the parameter.
    """
    number("datum", datum)
    if len(rings) < 2:
        raise ShapeError(
            "sections",
            f"{len(rings)} cross-sections were given.",
            "A body needs 2 or more.",
            "Add the one at the other end.",
        )
    for i, (ring, following) in enumerate(pairwise(rings)):
        if following.x <= ring.x:
            raise ShapeError(
                f"sections[{i + 1}].station",
                f"{following.x + datum:g} mm follows {ring.x + datum:g} mm.",
                "Stations must grow from one cross-section to the next.",
                "Put them in order from forward to aft.",
            )
        if following.open != ring.open:
            raise ShapeError(
                f"sections[{i + 1}].points",
                "An open cross-section follows a closed one, or a closed one an open one.",
                "All closed or all open is allowed.",
            )
    closed = not rings[0].open
    for word, asked in (("front", front), ("aft", aft)):
        if asked and not closed:
            raise ShapeError(word, "The body is open.", "Only a closed one has an end to close.")
    patches = tuple(BodyPatch(a, b, float(datum)) for a, b in pairwise(rings))
    if closed:
        _check_round(rings, patches)
    joins = [Join(i, "t1", i + 1, "t0") for i in range(len(patches) - 1)]
    if closed:
        joins += [Join(i, "s0", i, "s1") for i in range(len(patches))]
    sheets = [Sheet("skin", ("outer", "inner"), patches, tuple(joins))]
    if front:
        sheets.append(bulkhead(patches[0], 0.0, "front end"))
    if aft:
        sheets.append(bulkhead(patches[-1], 1.0, "aft end"))
    return tuple(sheets)


def _check_round(rings: Sequence[Ring], patches: Sequence[BodyPatch]) -> None:
    """Going round, the angle must fall all the way: else a place has no one angle."""
    s = np.linspace(-1.0, 1.0, 721)
    for i in range(len(rings)):
        patch, t = (patches[i], 0.0) if i < len(patches) else (patches[-1], 1.0)
        fall = np.diff(patch._signed(s, np.full_like(s, t)))
        if (fall >= 0.0).any():
            worst = abs(float(patch._signed(s, np.full_like(s, t))[int(np.argmax(fall))]))
            raise ShapeError(
                f"sections[{i}].points",
                f"About {worst:.0f} degrees from the top the outline turns back on itself.",
                "Each line from the middle outward meets the outline once.",
                "Correct the ordinates there.",
            )


def bulkhead(patch: BodyPatch, t: float, name: str) -> Sheet:
    """A closed body's cross-section at t as one flat sheet: a bulkhead, firewall or closed end.

    Faces: forward and aft. Flat frame: x outboard and y up, from the part's own zero.
    """
    curve = patch.curve_at(t)

    def plane(s: Array) -> Array:
        return np.asarray(curve.at(s)[..., 1:])

    outline = polygon_points(plane, parameters(plane, patch.s_lines))
    at = float(curve.at(0.0)[0])
    return plane_sheet(
        name,
        ("forward", "aft"),
        outline,
        np.array([at, 0.0, 0.0]),
        (np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])),
        (at + patch.datum, 0.0, 0.0),
    )


def locate(patches: Sequence[BodyPatch], station: float) -> tuple[BodyPatch, float]:
    """The patch that holds a station and its t there; ShapeError for a station off the body."""
    for patch in patches:
        t = float(patch.t_at_station(station))
        if 0.0 <= t <= 1.0:
            return patch, t
    low, high = patches[0]._ends[0], patches[-1]._ends[1]
    raise ShapeError("station", f"{station:g} mm was given.", f"{low:g} to {high:g} mm is allowed.")
