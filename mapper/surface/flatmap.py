"""The development of one chart: plane, cone (and cylinder), or a mesh laid flat.

Flat mm; each map also knows its way back. Mirrored parts use the same map with y negated.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError
from mapper.surface.meshmap import AREAS, MeshMap, mesh_map_from
from mapper.surface.skin import EDGE, FlatMap
from mapper.surface.table import Table, table, table_from
from meshes.ruled import RuledPatch

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PlaneMap:
    """A flat piece: flat mm are its parameters. low, high: (2,) corners of the parameter box."""

    low: Array
    high: Array

    isometric = True

    def to_flat(self, param: Array) -> Array:
        """(K, 2) parameters to (K, 2) flat mm."""
        return np.array(param, dtype=np.float64)

    def to_param(self, flat: Array) -> Array:
        """(K, 2) flat mm to (K, 2) parameters; NaN rows outside the parameter box."""
        flat = np.asarray(flat, dtype=np.float64)
        inside = np.all((flat >= self.low - EDGE) & (flat <= self.high + EDGE), axis=1)
        return np.where(inside[:, None], flat, np.nan)

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays); `flat_map_from` reads it."""
        return {"format": "plane map/1", "low": self.low, "high": self.high}


@dataclass(frozen=True, eq=False)
class FacetMap(PlaneMap):
    """A piece cut from a mesh: flat mm are its parameters, and the map stretches."""

    isometric = False

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays); `flat_map_from` reads it."""
        return {"format": "facet map/1", "low": self.low, "high": self.high}


@dataclass(frozen=True, eq=False)
class ConeMap:
    """A cone or cylinder unrolled: its straight lines stay straight and keep their lengths.

    With F(s) the development of the curve t = 0, the chart is F(s) + t (w - (1 - k) F(s)) + offset:
    k is the ratio of the two end curves, w = (length of the line s = 0, 0).
    curve: a table of three functions of s, the developed angle times the distance from the apex
    to s = 0 (mm; plain distance on a cylinder) and the two coordinates of F.
    """

    curve: Table
    k: float
    length: float
    low: float
    high: float
    offset: Array

    isometric = True

    @property
    def _bend(self) -> float:
        """1 / distance of the apex from the root's leading edge, 1/mm; 0 on a cylinder."""
        return (1.0 - self.k) / self.length

    def to_flat(self, param: Array) -> Array:
        """(K, 2) parameters to (K, 2) flat mm."""
        param = np.asarray(param, dtype=np.float64)
        t = param[:, 1:2]
        root = self.curve.values(param[:, 0], 1)
        out = np.array([self.length, 0.0])
        return np.asarray(root * (1.0 - t * (1.0 - self.k)) + t * out + self.offset)

    def to_param(self, flat: Array) -> Array:
        """(K, 2) flat mm to (K, 2) parameters; NaN rows off the chart by more than EDGE mm."""
        point = np.asarray(flat, dtype=np.float64) - self.offset
        bend = self._bend
        down = 1.0 - bend * point[:, 0]
        if abs(bend) > 1e-15:
            wanted = np.arctan2(abs(bend) * point[:, 1], down) / abs(bend)
        else:
            wanted = point[:, 1]
        s = self._solve(wanted)
        root = self.curve.values(s)
        line = np.array([self.length, 0.0]) - (1.0 - self.k) * root[:, 1:]
        size = np.linalg.norm(line, axis=1)
        t = np.sum((point - root[:, 1:]) * line, axis=1) / (size * size)
        # How far beside the chart: across its lines, and along them.
        shrink = np.hypot(bend * point[:, 1], down)
        with np.errstate(invalid="ignore"):
            beside = np.abs(wanted - root[:, 0]) * shrink > EDGE
            beyond = (t * size < -EDGE) | ((t - 1.0) * size > EDGE)
        result = np.stack([s, np.clip(t, 0.0, 1.0)], axis=-1)
        result[beside | beyond | ~np.isfinite(wanted)] = np.nan
        return result

    def _solve(self, wanted: Array) -> Array:
        """s where the first function of the table has the wanted value, clipped to low..high."""
        grid = self.curve.breaks
        known = self.curve.values(grid)[:, 0]
        piece = np.clip(np.searchsorted(known, wanted) - 1, 0, len(grid) - 2)
        least, most = grid[piece].copy(), grid[piece + 1].copy()
        share = (wanted - known[piece]) / (known[piece + 1] - known[piece])
        s = least + np.clip(np.nan_to_num(share), 0.0, 1.0) * (most - least)
        for _ in range(60):
            value, slope = self.curve.one_at(s, 0)
            miss = value - wanted
            least = np.where(miss < 0.0, s, least)
            most = np.where(miss >= 0.0, s, most)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = s - miss / slope
            inside = (step >= least) & (step <= most)
            following = np.where(inside, step, 0.5 * (least + most))
            moved = np.abs(following - s)
            s = following
            if np.all(moved <= 4e-16):
                break
        return np.clip(s, self.low, self.high)

    def to_dict(self) -> dict[str, Any]:
        """A record (arrays stay arrays); `flat_map_from` reads it."""
        return {
            "format": "cone map/1",
            "curve": self.curve.to_dict(),
            "k": self.k,
            "length": self.length,
            "low": self.low,
            "high": self.high,
            "offset": self.offset,
        }

    def moved(self, by: Array) -> ConeMap:
        """The same map shifted by (2,) flat mm."""
        return replace(self, offset=self.offset + by)


@dataclass(frozen=True, eq=False)
class MirroredMap:
    """`of` with flat y negated: the left-hand part's development."""

    of: FlatMap

    @property
    def isometric(self) -> bool:
        return self.of.isometric

    def to_flat(self, param: Array) -> Array:
        """(K, 2) parameters to (K, 2) flat mm."""
        return np.asarray(self.of.to_flat(param) * np.array([1.0, -1.0]))

    def to_param(self, flat: Array) -> Array:
        """(K, 2) flat mm to (K, 2) parameters; NaN rows off the chart."""
        return self.of.to_param(np.asarray(flat, dtype=np.float64) * np.array([1.0, -1.0]))

    def to_dict(self) -> dict[str, Any]:
        """A record; `flat_map_from` reads it."""
        return {"format": "mirrored map/1", "of": self.of.to_dict()}


def mesh_map_of(flat_map: FlatMap) -> MeshMap | None:
    """The map of a grid behind a flat map and its mirror; None for another map."""
    inner = flat_map.of if isinstance(flat_map, MirroredMap) else flat_map
    return inner if isinstance(inner, MeshMap) else None


def cone_map(patch: RuledPatch) -> ConeMap:
    """The exact development of a patch of kind "cone", its line s = 0 along +x.

    Seen from the apex, the development's angle is the length of the curve's picture on the unit
    sphere. Distances are written as differences from those at s = 0, so that an apex a million
    chords away costs no digits. MapperError for a patch of another kind.
    """
    k = patch.scale
    if k is None:
        raise MapperError(
            "A twisted or changing patch was given.", "Only cones and cylinders unroll exactly."
        )
    curve = patch.curve0
    start = curve.at(0.0)
    shift = patch.curve1.at(0.0) - start
    length = float(np.linalg.norm(shift))
    low, high = min(patch.low, 0.0), max(patch.high, 0.0)
    kinks = curve.kinks[(curve.kinks > low + 1e-9) & (curve.kinks < high - 1e-9)]
    breaks = np.unique(np.concatenate([[low, high, 0.0], kinks, patch.s_lines]))
    if k == 1.0:
        along = shift / length

        def rates(s: Array) -> Array:
            slope = curve.d(s)
            return np.asarray(np.linalg.norm(slope - (slope @ along)[:, None] * along, axis=-1))

        def finish(s: Array, turned: Array) -> Array:
            return np.stack([turned, (curve.at(s) - start) @ along, turned], axis=-1)

    else:
        apex = start + shift / (1.0 - k)
        reach = start - apex
        far = float(np.linalg.norm(reach))
        sign = 1.0 if k < 1.0 else -1.0

        def rates(s: Array) -> Array:
            ray = curve.at(s) - apex
            across = np.linalg.norm(np.cross(curve.d(s), ray), axis=-1)
            return np.asarray(far * across / np.sum(ray * ray, axis=-1))

        def finish(s: Array, turned: Array) -> Array:
            step = curve.at(s) - start
            size = np.linalg.norm(step + reach, axis=-1)
            longer = np.sum(step * (step + 2.0 * reach), axis=-1) / (size + far)
            angle = turned / far
            x = sign * (2.0 * size * np.sin(0.5 * angle) ** 2 - longer)
            return np.stack([turned, x, size * np.sin(angle)], axis=-1)

    made = table(rates, finish, breaks)
    # A piece without its leading edge (a cover) has its origin at its own forward inboard corner.
    nearest = np.array([np.clip(0.0, patch.low, patch.high)])
    corner = made.at(nearest)[0][0, 1:] if nearest[0] != 0.0 else np.zeros(2)
    return ConeMap(made, k, length, patch.low, patch.high, -corner)


def flat_map_from(record: dict[str, Any]) -> FlatMap:
    """The flat map of a record, answering as the one recorded to the last bit.

    MapperError for an unknown format.
    """
    word = record.get("format")
    if word == "plane map/1":
        return PlaneMap(np.asarray(record["low"]), np.asarray(record["high"]))
    if word == "facet map/1":
        return FacetMap(np.asarray(record["low"]), np.asarray(record["high"]))
    if word == "cone map/1":
        return ConeMap(
            table_from(record["curve"]),
            record["k"],
            record["length"],
            record["low"],
            record["high"],
            np.asarray(record["offset"]),
        )
    if word in ("mesh map/1", AREAS):
        return mesh_map_from(record)
    if word == "mirrored map/1":
        return MirroredMap(flat_map_from(record["of"]))
    raise MapperError(
        f"A flat map has the format {word!r}.",
        "This release reads plane, cone, mesh and mirrored maps.",
        "Open it with a newer release.",
    )
