"""Places as a tape finds them: so far outboard of a rib, so far aft of a spar; and what is nearest.

Distances are measured on the flat map, square to the rib or spar. Between a point and a line on a
neighbouring chart the tape crosses the chart edge where the whole way is shortest.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString

from mapper.errors import MapperError
from mapper.surface.geometry import Geometry, MapLine
from mapper.surface.place import param_of_flat, place_of, points_of
from mapper.surface.skin import Chart, Glue, Skin
from meshes.mirror import unmirrored
from meshes.plane import PlanePatch
from meshes.ruled import RuledPatch

Array = NDArray[np.float64]

ROUNDS = 50
EDGE_NAMES = {"s0": "lower trailing edge", "s1": "upper trailing edge", "t0": "root", "t1": "tip"}


@dataclass(frozen=True)
class NearLine:
    """A named line or free edge and its distance (mm) from a point. kind: as `MapLine.kind`, or
    "edge" (a free edge of the sheet) or "opening"."""

    kind: str
    name: str
    distance: float


@dataclass(frozen=True)
class Tape:
    """A place by tape: mm outboard of a rib (negative: inboard) and aft of a spar (negative:
    forward), on the upper or lower side."""

    rib: str
    outboard: float
    spar: str
    aft: float
    upper: bool


def _box(chart: Chart) -> shapely.Polygon:
    low, high = chart.rim.min(axis=0) - 1.0, chart.rim.max(axis=0) + 1.0
    return shapely.box(*low, *high)


def _pieces(flat: shapely.Geometry, chart: Chart) -> list[LineString]:
    """The parts of lines that lie on a chart (charts lie apart in x, each line on one of them)."""
    box = _box(chart)
    return [
        part
        for part in shapely.get_parts(flat)
        if isinstance(part, LineString) and box.covers(shapely.Point(part.coords[0]))
    ]


class _Directed:
    """A line on the flat map with a sign: positive to one side, run on straight beyond its ends."""

    def __init__(self, points: Array, sign: float) -> None:
        self.start = points[:-1]
        step = np.diff(points, axis=0)
        self.size = np.linalg.norm(step, axis=1)
        self.along = step / self.size[:, None]
        self.sign = sign

    def distance(self, point: Array) -> tuple[float, Array]:
        """Signed distance and its gradient (2,)."""
        rest = point - self.start
        run = np.sum(rest * self.along, axis=1)
        low, high = np.zeros_like(run), self.size.copy()
        low[0], high[-1] = -np.inf, np.inf
        foot = self.start + np.clip(run, low, high)[:, None] * self.along
        away = point - foot
        reach = np.linalg.norm(away, axis=1)
        k = int(np.argmin(reach))
        along = self.along[k]
        left = np.array([-along[1], along[0]])
        hand = 1.0 if float(away[k] @ left) >= 0.0 else -1.0
        # On a corner the way to the foot is square to neither piece.
        unit = away[k] / reach[k] * hand if reach[k] > 1e-9 else left
        return self.sign * hand * float(reach[k]), self.sign * unit


def _on_side(skin: Skin, chart: Chart, line: LineString, upper: bool) -> Array | None:
    """The corners (K, 2) of a line that lie on a side of a chart; None for fewer than two."""
    points = np.asarray(line.coords, dtype=np.float64)
    patch = unmirrored(chart.patch)
    if isinstance(patch, RuledPatch) and patch.chorded:
        s = chart.flat_map.to_param(points)[:, 0]
        keep = (s >= -1e-9) if upper else (s <= 1e-9)
        points = points[keep]
    keep = np.concatenate([[True], np.any(np.diff(points, axis=0) != 0.0, axis=1)])
    points = points[keep[: len(points)]]
    return points if len(points) > 1 else None


def _directed(skin: Skin, chart: Chart, line: MapLine, upper: bool, rib: bool) -> _Directed | None:
    """A rib's line, positive outboard, or a spar's, positive aft, on a side of a chart."""
    found = [_on_side(skin, chart, piece, upper) for piece in _pieces(line.flat, chart)]
    good = [points for points in found if points is not None]
    if not good:
        return None
    points = max(good, key=lambda p: float(np.linalg.norm(np.diff(p, axis=0), axis=1).sum()))
    axis = 1 if rib else 0
    if points[-1, axis] < points[0, axis]:
        points = points[::-1]
    if rib:
        # The left of a line that runs up the map is inboard.
        return _Directed(points, -1.0)
    patch = unmirrored(chart.patch)
    below = isinstance(patch, RuledPatch) and patch.chorded and not upper
    return _Directed(points, -1.0 if below != skin.mirrored else 1.0)


def _named(geometry: Geometry, skin: Skin, kind: str, name: str) -> MapLine:
    lines = [line for line in geometry.lines if line.skin == skin.name and line.kind == kind]
    for line in lines:
        if line.name == name:
            return line
    names = ", ".join(repr(line.name) for line in lines) or f"no {kind}"
    raise MapperError(
        f"No {kind} {name!r} on the skin {skin.name} of {geometry.part}.", f"It has {names}."
    )


def _solve(rib: _Directed, spar: _Directed, outboard: float, aft: float, start: Array) -> Array:
    point = start
    for _ in range(ROUNDS):
        (d1, g1), (d2, g2) = rib.distance(point), spar.distance(point)
        matrix = np.stack([g1, g2])
        if abs(float(np.linalg.det(matrix))) < 0.05:
            break
        step = np.linalg.solve(matrix, np.array([outboard - d1, aft - d2]))
        point = point + step
        if float(np.abs(step).max()) < 1e-10:
            return point
    (d1, _), (d2, _) = rib.distance(point), spar.distance(point)
    if max(abs(d1 - outboard), abs(d2 - aft)) < 1e-6:
        return point
    raise MapperError(
        f"No point lies {outboard:g} mm from the rib and {aft:g} mm from the spar.",
        "The two distances must meet in one point.",
        "Choose a rib and a spar that cross.",
    )


def by_tape(
    geometry: Geometry,
    skin_name: str,
    *,
    rib: str,
    outboard: float,
    spar: str,
    aft: float,
    upper: bool = True,
) -> Array:
    """The flat point (2,) mm at tape distances square to a rib and to a spar, on a side.

    outboard: mm from the rib, negative inboard. aft: mm from the spar, negative forward. A point
    beyond a chart edge is found from that edge on, with what the rib's distance to it leaves.
    MapperError for a rib or spar that is not there (naming those that are), lines that do not
    cross, or a point off the skin.
    """
    skin = geometry.skin(skin_name)
    if not (np.isfinite(outboard) and np.isfinite(aft)):
        raise MapperError(f"The distances {outboard} and {aft} mm were given.", "Finite mm only.")
    rib_line, spar_line = _named(geometry, skin, "rib", rib), _named(geometry, skin, "spar", spar)
    # Charts on which rib and spar cross, but not at a place of that chart.
    beyond: list[tuple[int, _Directed, _Directed]] = []
    for number, chart in enumerate(skin.charts):
        first = _directed(skin, chart, rib_line, upper, True)
        second = _directed(skin, chart, spar_line, upper, False)
        if first is None or second is None:
            continue
        point = _solve(first, second, outboard, aft, first.start[len(first.start) // 2])
        found = _landed(skin, number, point, upper)
        if found is not None:
            return found
        beyond.append((number, first, second))
    for number, first, second in beyond:
        found = _beyond(skin, number, first, second, spar_line, outboard, aft, upper)
        if found is not None:
            return found
    side = "upper" if upper else "lower"
    if not beyond:
        raise MapperError(
            f"{rib} and {spar} do not both lie on the {side} side of {skin_name}.",
            "A rib and a spar of that side are needed.",
            "Check the side.",
        )
    raise MapperError(
        f"{outboard:g} mm outboard of {rib} and {aft:g} mm aft of {spar} on the {side} side lies "
        f"off {skin_name}.",
        "A place on the sheet is needed.",
        "Check the distances and the side; inboard and forward are negative.",
    )


def _landed(skin: Skin, number: int, point: Array, upper: bool) -> Array | None:
    """The point if it is on that chart and side, else None."""
    places = place_of(skin, point[None])
    if places.chart[0] != number:
        return None
    patch = unmirrored(skin.charts[number].patch)
    if isinstance(patch, RuledPatch) and patch.chorded and bool(places.upper[0]) != upper:
        # The leading edge belongs to both sides.
        return point if places.chord[0] == 0.0 else None
    return point


def _beyond(
    skin: Skin,
    number: int,
    rib: _Directed,
    spar: _Directed,
    spar_line: MapLine,
    outboard: float,
    aft: float,
    upper: bool,
) -> Array | None:
    """The point on the next chart towards `outboard`, measured on from the shared edge."""
    mine, its = ("t1", "t0") if outboard > 0.0 else ("t0", "t1")
    following = _neighbour(skin, number, mine)
    if following is None:
        return None
    edge = _Directed(_edge_points(skin.charts[number], mine, upper), -1.0)
    try:
        corner = _solve(edge, spar, 0.0, aft, edge.start[len(edge.start) // 2])
        other = skin.charts[following]
        second = _directed(skin, other, spar_line, upper, False)
        if second is None:
            return None
        rest = outboard - rib.distance(corner)[0]
        start = _Directed(_edge_points(other, its, upper), -1.0)
        point = _solve(start, second, rest, aft, start.start[len(start.start) // 2])
    except MapperError:
        return None
    return _landed(skin, following, point, upper)


def _neighbour(skin: Skin, number: int, edge: str) -> int | None:
    for glue in skin.glue:
        if (glue.chart_a, glue.edge_a) == (number, edge):
            return glue.chart_b
        if (glue.chart_b, glue.edge_b) == (number, edge):
            return glue.chart_a
    return None


def _edge_params(chart: Chart, edge: str, share: Array) -> Array:
    """Parameters (K, 2) at shares 0..1 of a chart edge."""
    s, t = chart.patch.s_lines, chart.patch.t_lines
    run = share * (s[-1] - s[0]) + s[0] if edge[0] == "t" else share * (t[-1] - t[0]) + t[0]
    ends = t if edge[0] == "t" else s
    fixed = np.full_like(share, ends[0] if edge[1] == "0" else ends[-1])
    return np.stack([run, fixed] if edge[0] == "t" else [fixed, run], axis=-1)


def _edge_points(chart: Chart, edge: str, upper: bool) -> Array:
    param = _edge_params(chart, edge, np.linspace(0.0, 1.0, 401))
    patch = unmirrored(chart.patch)
    if isinstance(patch, RuledPatch) and patch.chorded:
        param = param[(param[:, 0] >= 0.0) == upper]
    points = chart.flat_map.to_flat(param)
    return points if points[-1, 1] >= points[0, 1] else points[::-1]


class _Target:
    """Lines on one chart, ready to be asked many times how far they are."""

    def __init__(self, lines: list[LineString]) -> None:
        self.there = bool(lines)
        self.true = _tree(lines)
        self.rough = _tree([line.simplify(0.1) for line in lines])


def _tree(lines: list[LineString]) -> shapely.STRtree:
    """The straight pieces of lines."""
    corners = [shapely.get_coordinates(line) for line in lines]
    ends = [np.stack([c[:-1], c[1:]], axis=1) for c in corners]
    return shapely.STRtree(shapely.linestrings(np.concatenate(ends)) if ends else [])


def _far(tree: shapely.STRtree, points: Array) -> Array:
    """Distances (K,) mm from points (K, 2) to the nearest piece; inf where there is none."""
    result = np.full(len(points), np.inf)
    (asked, _), distance = tree.query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    result[asked] = distance
    return result


# Everything that has a distance, by geometry and skin: (kind, name, one target for each chart).
_Named = tuple[str, str, tuple[_Target, ...]]
_TARGETS: WeakKeyDictionary[Geometry, dict[str, tuple[_Named, ...]]] = WeakKeyDictionary()


def _targets(geometry: Geometry, skin: Skin) -> tuple[_Named, ...]:
    """The lines, free edges and openings of a skin; made once."""
    known = _TARGETS.setdefault(geometry, {})
    if skin.name not in known:
        shapes = [
            (line.kind, line.name, line.flat)
            for line in geometry.lines
            if line.skin == skin.name and line.kind != "hinge line"
        ]
        shapes += [("edge", name, shape) for name, shape in free_edges(skin).items()]
        shapes += [
            ("opening", opening.name, opening.flat.boundary)
            for opening in geometry.openings
            if opening.skin == skin.name
        ]
        known[skin.name] = tuple(
            (kind, name, tuple(_Target(_pieces(flat, chart)) for chart in skin.charts))
            for kind, name, flat in shapes
        )
    return known[skin.name]


def _across(
    skin: Skin, number: int, glue: Glue, point: Array, targets: tuple[_Target, ...]
) -> float:
    """Shortest way from a point over a glued edge to lines on the other chart; inf for none."""
    here, there = (glue.edge_a, glue.edge_b), (glue.chart_a, glue.chart_b)
    if glue.chart_a != number:
        here, there = here[::-1], there[::-1]
    target = targets[there[1]]
    if not target.there:
        return float("inf")
    # A coarse look along the whole edge at a simpler line, then closer ones at the true line.
    low, high, best = 0.0, 1.0, float("inf")
    for look in range(6):
        share = np.linspace(low, high, 65 if look == 0 else 9)
        near = skin.charts[number].flat_map.to_flat(
            _edge_params(skin.charts[number], here[0], share)
        )
        far = skin.charts[there[1]].flat_map.to_flat(
            _edge_params(skin.charts[there[1]], here[1], share)
        )
        beyond = _far(target.true if look else target.rough, far)
        ways = np.linalg.norm(near - point, axis=1) + beyond
        k = int(np.argmin(ways))
        if look:
            best = min(best, float(ways[k]))
        low, high = share[max(k - 1, 0)], share[min(k + 1, len(share) - 1)]
    return best


def _distance(skin: Skin, number: int, point: Array, targets: tuple[_Target, ...]) -> float:
    direct = _far(targets[number].true, point[None]).tolist()
    ways = [
        _across(skin, number, glue, point, targets)
        for glue in skin.glue
        if number in (glue.chart_a, glue.chart_b) and glue.chart_a != glue.chart_b
    ]
    return min([*direct, *ways], default=float("inf"))


def free_edges(skin: Skin) -> dict[str, shapely.MultiLineString]:
    """The sheet's free edges (not glued) as flat lines by name, such as "tip"; "edge" where a part
    has no chord."""
    glued = {(g.chart_a, g.edge_a) for g in skin.glue} | {(g.chart_b, g.edge_b) for g in skin.glue}
    found: dict[str, list[LineString]] = {}
    share = np.linspace(0.0, 1.0, 401)
    for number, chart in enumerate(skin.charts):
        patch = unmirrored(chart.patch)
        if isinstance(patch, PlanePatch):
            found.setdefault("edge", []).append(LineString([*chart.rim, chart.rim[0]]))
            continue
        whole = isinstance(patch, RuledPatch) and patch.chorded
        for edge, name in EDGE_NAMES.items():
            if (number, edge) in glued:
                continue
            end = float(patch.s_lines[-1 if edge == "s1" else 0])
            known = whole and (edge[0] == "t" or abs(end) == 1.0)
            points = chart.flat_map.to_flat(_edge_params(chart, edge, share))
            found.setdefault(name if known else "edge", []).append(LineString(points))
    return {name: shapely.MultiLineString(lines) for name, lines in found.items()}


def nearest_lines(geometry: Geometry, skin_name: str, flat: ArrayLike) -> tuple[NearLine, ...]:
    """Every named line, free edge and opening of a skin with its distance from one flat point (2,),
    nearest first. Hinge lines (they need not lie on the skin) are left out.

    MapperError for a point off the skin.
    """
    skin = geometry.skin(skin_name)
    point = points_of(flat)[:1]
    chart, _, _ = param_of_flat(skin, point)
    if len(chart) == 0 or chart[0] < 0:
        raise MapperError(
            f"The point {np.asarray(flat).tolist()} is off the skin {skin_name}.",
            "A flat point on the sheet is needed.",
        )
    number, place = int(chart[0]), point[0]
    lines = _targets(geometry, skin)
    near = [NearLine(kind, name, _distance(skin, number, place, f)) for kind, name, f in lines]
    known = [n for n in near if np.isfinite(n.distance)]
    return tuple(sorted(known, key=lambda n: (n.distance, n.kind, n.name)))


def tape_of(geometry: Geometry, skin_name: str, flat: ArrayLike) -> Tape | None:
    """The place of one flat point (2,) by its nearest rib and spar on the same chart and side.

    None where the point is off the skin, or its chart and side have no rib or no spar.
    """
    skin = geometry.skin(skin_name)
    point = points_of(flat)[:1]
    places = place_of(skin, point)
    if len(point) == 0 or places.chart[0] < 0:
        return None
    chart, upper = skin.charts[int(places.chart[0])], bool(places.upper[0])
    best: dict[str, tuple[str, float]] = {}
    for line in geometry.lines:
        if line.skin != skin_name or line.kind not in ("rib", "spar"):
            continue
        directed = _directed(skin, chart, line, upper, line.kind == "rib")
        if directed is None:
            continue
        distance = directed.distance(point[0])[0]
        if line.kind not in best or abs(distance) < abs(best[line.kind][1]):
            best[line.kind] = (line.name, distance)
    if len(best) < 2:
        return None
    (rib, outboard), (spar, aft) = best["rib"], best["spar"]
    return Tape(rib, outboard, spar, aft, upper)


def tape_words(geometry: Geometry, skin_name: str, flat: ArrayLike) -> str:
    """One flat point (2,) in words: "rib 7, 120 mm outboard, 60 mm aft of front spar, upper side".

    By station and % chord where there is no rib and spar to measure from; "off the sheet" for a
    point that is on no chart. Whole mm.
    """
    skin = geometry.skin(skin_name)
    places = place_of(skin, points_of(flat)[:1])
    if len(places.chart) == 0 or places.chart[0] < 0:
        return "off the sheet"
    patch = unmirrored(skin.charts[int(places.chart[0])].patch)
    two_sided = isinstance(patch, RuledPatch) and patch.chorded
    side = f", {'upper' if places.upper[0] else 'lower'} side" if two_sided else ""
    tape = tape_of(geometry, skin_name, flat)
    if tape is not None:
        out = f"{abs(tape.outboard):.0f} mm {'outboard' if tape.outboard >= 0 else 'inboard'}"
        aft = f"{abs(tape.aft):.0f} mm {'aft' if tape.aft >= 0 else 'forward'} of {tape.spar}"
        return f"{tape.rib}, {out}, {aft}{side}"
    chord = "" if np.isnan(places.chord[0]) else f", {places.chord[0]:.1f} % chord"
    return f"station {places.station[0]:.0f} mm{chord}{side}"
