"""From one version of a skin to another by the sizes they share: station and % chord on wings, the
way round on bodies and tubes, the flat measures of plates, ribs and webs."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from mapper.job.carry.scale import NOTHING, Across, Scale, chord_runs, scale_of, station_marks
from mapper.surface.geometry import Geometry
from mapper.surface.place import points_of
from mapper.surface.skin import Chart, Skin
from meshes.chorded import Chorded
from meshes.mirror import unmirrored
from meshes.plane import PlanePatch
from meshes.stationed import Stationed

Array = NDArray[np.float64]
Numbers = NDArray[np.intp]

STEP = 10.0  # mm: sides of an outline are bent at least so often, for straight does not stay so
FINE = 5e-4  # mm: bends less than this are taken out again
NOSE = 1.0  # % chord: ahead of it places go by the way round the nose; % chord is flat there
SNUG = 1e-6  # mm
ROUND = 4000.0  # s is taken times this, so that a step of it is some mm on the sheet


class Carrier(Protocol):
    """Takes flat points and shapes of an old skin to the new one."""

    def points(self, flat: Array) -> Array:
        """New flat points (K, 2) mm of old ones (K, 2); NaN where there is no such place."""
        ...

    def shape(self, shape: BaseGeometry) -> BaseGeometry:
        """The new flat shape, of the same sort; empty where nothing of it is on the new sheet."""
        ...


def sort_of(skin: Skin) -> str:
    """ "chorded", "stationed", "plane" or "mesh": how places on a skin are told."""
    patches = [unmirrored(chart.patch) for chart in skin.charts]
    if all(isinstance(p, Chorded) and p.chorded for p in patches):
        return "chorded"
    if all(isinstance(p, Stationed) and not p.chorded for p in patches):
        return "stationed"
    return "plane" if all(isinstance(p, PlanePatch) for p in patches) else "mesh"


def chart_at(skin: Skin, flat: Array) -> Numbers:
    """The chart (K,) each flat point is on, or the nearest one: charts lie well apart."""
    points = shapely.points(points_of(flat))
    far = np.stack([shapely.distance(chart.outline, points) for chart in skin.charts])
    return np.asarray(np.argmin(far, axis=0), dtype=np.intp)


def simple(shape: BaseGeometry, dimension: int) -> BaseGeometry:
    """Parts of one dimension, without bends that nobody can measure."""
    parts = [g for g in _parts(shape) if shapely.get_dimensions(g) == dimension and not g.is_empty]
    makers: tuple[Any, ...] = (
        shapely.MultiPoint,
        shapely.MultiLineString,
        shapely.MultiPolygon,
    )
    return makers[dimension]([shapely.simplify(g, FINE) if dimension else g for g in parts])


def _parts(shape: BaseGeometry) -> list[BaseGeometry]:
    found = []
    for part in shapely.get_parts(shape):
        found += _parts(part) if hasattr(part, "geoms") else [part]
    return found


class ByPlane:
    """Plates, ribs, webs, covers: flat measures stay, or keep their share between the edges."""

    def __init__(self, old: Skin, new: Skin, keep: str) -> None:
        self._old, self._new = old, new
        self._axes: list[list[Scale]] = []
        for number, chart in enumerate(old.charts):
            scales = [NOTHING, NOTHING]
            if keep == "places" and len(old.charts) == len(new.charts):
                other = new.charts[number].rim
                scales = [
                    Scale(_ends(chart.rim[:, axis]), _ends(other[:, axis])) for axis in (0, 1)
                ]
            self._axes.append(scales)

    def _moved(self, flat: Array, number: int) -> Array:
        return np.stack([self._axes[number][k].forward(flat[:, k]) for k in (0, 1)], axis=-1)

    def points(self, flat: Array) -> Array:
        numbers = chart_at(self._old, flat)
        result = np.array(flat, dtype=np.float64)
        for number in np.unique(numbers):
            rows = numbers == number
            result[rows] = self._moved(result[rows], int(number))
        sheet = shapely.union_all([c.outline for c in self._new.charts])
        off = ~shapely.dwithin(sheet, shapely.points(result), 1e-3)
        result[off] = np.nan
        return result

    def shape(self, shape: BaseGeometry) -> BaseGeometry:
        dimension = int(shapely.get_dimensions(shape))
        moved = []
        for part in shapely.get_parts(shape):
            number = int(chart_at(self._old, _middle(part))[0])
            moved.append(shapely.transform(part, lambda xy, n=number: self._moved(xy, n)))
        return simple(shapely.GeometryCollection(moved), dimension)


def _ends(values: Array) -> Array:
    return np.array([values.min(), values.max()])


def _middle(part: BaseGeometry) -> Array:
    return np.asarray(shapely.get_coordinates(shapely.point_on_surface(part))[:1])


class ByStation:
    """Skins whose places have a station, and across it a % chord or a way round."""

    def __init__(self, old: Geometry, new: Geometry, one: Skin, other: Skin, keep: str) -> None:
        self._old, self._new = one, other
        self._chorded = sort_of(one) == "chorded"
        self._places = keep == "places"
        self.stations = NOTHING
        if self._places:
            self.stations = scale_of(station_marks(old, one), station_marks(new, other))
        self._across = {
            side: Across(
                chord_runs(old, one, side) if self._chorded and self._places else {},
                chord_runs(new, other, side) if self._chorded and self._places else {},
                self.stations,
            )
            for side in (True, False)
        }

    def points(self, flat: Array) -> Array:
        flat = points_of(flat)
        result = np.full((len(flat), 2), np.nan)
        numbers = chart_at(self._old, flat)
        for number in np.unique(numbers):
            rows = np.flatnonzero(numbers == number)
            where = self._told(int(number), flat[rows])
            for target, box in self._targets(int(number)):
                x0, y0, x1, y1 = box
                inside = (where[:, 0] >= x0 - SNUG) & (where[:, 0] <= x1 + SNUG)
                inside &= (where[:, 1] >= y0 - SNUG) & (where[:, 1] <= y1 + SNUG)
                inside &= np.isnan(result[rows, 0])
                if inside.any():
                    result[rows[inside]] = self._laid(int(number), target, where[inside])
        return result

    def shape(self, shape: BaseGeometry) -> BaseGeometry:
        dimension = int(shapely.get_dimensions(shape))
        laid: list[BaseGeometry] = []
        for part in shapely.get_parts(shape):
            number = int(chart_at(self._old, _middle(part))[0])
            bent = shapely.segmentize(part, STEP) if dimension else part
            rest = shapely.transform(bent, lambda xy, n=number: self._told(n, xy))
            for target, box in self._targets(number):
                if rest.is_empty:
                    break
                x0, y0, x1, y1 = rest.bounds
                if (
                    x0 >= box[0] - SNUG
                    and y0 >= box[1] - SNUG
                    and x1 <= box[2] + SNUG
                    and y1 <= box[3] + SNUG
                ):
                    inside, rest = rest, shapely.GeometryCollection()
                else:
                    # A cut along a station is straight here, and curved on the flat map.
                    inside, rest = (
                        shapely.segmentize(g, STEP) for g in _split(rest, shapely.box(*box))
                    )
                if not inside.is_empty:
                    laid.append(
                        shapely.transform(
                            inside, lambda xy, n=number, k=target: self._laid(n, k, xy)
                        )
                    )
        return simple(shapely.GeometryCollection(laid), dimension)

    def _told(self, number: int, flat: Array) -> Array:
        """(K, 2): new station and old s (times ROUND) of flat points on a chart."""
        chart = self._old.charts[number]
        patch: Any = unmirrored(chart.patch)
        param = chart.flat_map.to_param(flat)
        lost = ~np.isfinite(param).all(axis=1)
        if lost.any():
            # Rounding to the grid may put a corner just beside the chart: its nearest point is it.
            lines = shapely.shortest_line(chart.outline, shapely.points(flat[lost]))
            param[lost] = chart.flat_map.to_param(_inward(chart, lines))
        s = np.clip(param[:, 0], patch.low, patch.high)
        t = np.clip(param[:, 1], 0.0, 1.0)
        return np.stack([self.stations.forward(patch.station(s, t)), ROUND * s], axis=-1)

    def _targets(self, number: int) -> list[tuple[int, tuple[float, float, float, float]]]:
        """New charts that may hold places of an old one, with the new stations and old s there."""
        mine: Any = unmirrored(self._old.charts[number].patch)
        found = []
        for target, chart in enumerate(self._new.charts):
            patch: Any = unmirrored(chart.patch)
            ends = patch.station(0.5 * (patch.low + patch.high), np.array([0.0, 1.0]))
            low, high = -2.0 * ROUND, 2.0 * ROUND
            if self._chorded:
                # Charts of one side alone; a spar or an edge is no boundary in s.
                low, high = (0.0 if patch.low >= 0.0 else low), (0.0 if patch.high <= 0.0 else high)
            elif not _same_round(mine, patch):
                continue
            found.append((target, (float(ends[0]), low, float(ends[1]), high)))
        found.sort(key=lambda row: row[0] != number)
        return found

    def _laid(self, number: int, target: int, where: Array) -> Array:
        """New flat points (K, 2) on a chart of new stations and old s (K, 2) of an old chart."""
        old: Any = unmirrored(self._old.charts[number].patch)
        chart = self._new.charts[target]
        new: Any = unmirrored(chart.patch)
        station = self.stations.back(where[:, 0])
        t0 = np.clip(old.t_at_station(station), 0.0, 1.0)
        t1 = np.clip(new.t_at_station(where[:, 0]), 0.0, 1.0)
        s = np.clip(where[:, 1] / ROUND, old.low, old.high)
        if self._chorded:
            moved = self._by_chord(old, new, s, t0, t1, station)
        else:
            share = (s - old.low) / (old.high - old.low)
            moved = new.low + share * (new.high - new.low)
        return chart.flat_map.to_flat(np.stack([moved, t1], axis=-1))

    def _by_chord(
        self, old: Any, new: Any, s: Array, t0: Array, t1: Array, station: Array
    ) -> Array:
        result = np.empty_like(s)
        for upper in (True, False):
            rows = (s >= 0.0) == upper
            if not rows.any():
                continue
            a, b = t0[rows], t1[rows]
            before, after = _span(old, a, upper), _span(new, b, upper)

            def to_new(chord: Array, side: bool = upper, k: Any = rows) -> Array:
                if not self._places:
                    return chord
                first, last = before, after  # noqa: B023  (used within this turn only)
                return self._across[side].forward(chord, station[k], self.stations, first, last)

            chord = np.clip(old.chord(s[rows], a), before[0], before[1])
            wanted = np.clip(to_new(chord), after[0], after[1])
            found = new.s_at_chord(b, wanted, upper)
            # % chord runs back on itself ahead of the nose: there the way round is what stays.
            edge = np.full(len(a), NOSE)
            s0 = old.s_at_chord(a, edge, upper)
            s1 = new.s_at_chord(b, to_new(edge), upper)
            near = (chord < NOSE) & np.isfinite(s0) & np.isfinite(s1)
            with np.errstate(invalid="ignore"):
                found = np.where(near, s[rows] * s1 / s0, found)
            ends = (old.low, new.low), (old.high, new.high)
            for was, now in ends:
                # An edge stays the edge to the last bit.
                on_edge = np.abs(s[rows] - was) <= 1e-9
                both = self._places or abs(was) == 1.0
                found = np.where(on_edge & both, now, found)
            result[rows] = np.clip(found, new.low, new.high)
        return result


def _span(patch: Any, t: Array, upper: bool) -> tuple[Array, Array]:
    """First and last % chord (K,) of a side of a patch at t."""
    near, far = (max(patch.low, 0.0), patch.high) if upper else (min(patch.high, 0.0), patch.low)
    return patch.chord(np.full(len(t), near), t), patch.chord(np.full(len(t), far), t)


def _same_round(one: Any, other: Any) -> bool:
    """Whether two charts of a body are the same piece of the way round."""
    return bool(abs(one.low - other.low) <= 1e-6 and abs(one.high - other.high) <= 1e-6)


def _inward(chart: Chart, lines: Any) -> Array:
    """The ends of lines on a chart's outline, a little inside it."""
    ends = shapely.get_coordinates(lines)[::2]
    middle = shapely.get_coordinates(shapely.point_on_surface(chart.outline))[0]
    way = middle - ends
    size = np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-12)
    return np.asarray(ends + way / size * np.minimum(2e-3, size))


def _split(shape: BaseGeometry, box: BaseGeometry) -> tuple[BaseGeometry, BaseGeometry]:
    """What lies inside a box, and the rest."""
    if not shape.is_valid:
        # Corners brought in to the edge lie on it twice: what is wound round is what counts.
        shape = shapely.make_valid(shape, method="structure", keep_collapsed=False)
    inside, rest = shapely.intersection(shape, box), shapely.difference(shape, box)
    dimension = shapely.get_dimensions(shape)

    def own(found: BaseGeometry) -> BaseGeometry:
        kept = [g for g in _parts(found) if shapely.get_dimensions(g) == dimension]
        return shapely.GeometryCollection(kept)

    return own(inside), own(rest)
