"""Places as a tape finds them: so far outboard of a rib, so far aft of a spar.

Distances are measured on the flat map, square to the rib or spar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import LineString

from mapper.errors import MapperError
from mapper.surface.geometry import Geometry, MapLine
from mapper.surface.near import edge_params, pieces_on
from mapper.surface.place import place_of, points_of
from mapper.surface.skin import Chart, Skin
from meshes.mirror import unmirrored
from meshes.stationed import Stationed

Array = NDArray[np.float64]

ROUNDS = 50


@dataclass(frozen=True)
class Tape:
    """A place by tape: mm outboard of a rib (negative: inboard) and aft of a spar (negative:
    forward), on the upper or lower side."""

    rib: str
    outboard: float
    spar: str
    aft: float
    upper: bool


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
    if isinstance(patch, Stationed) and patch.chorded:
        s = chart.flat_map.to_param(points)[:, 0]
        keep = (s >= -1e-9) if upper else (s <= 1e-9)
        points = points[keep]
    keep = np.concatenate([[True], np.any(np.diff(points, axis=0) != 0.0, axis=1)])
    points = points[keep[: len(points)]]
    return points if len(points) > 1 else None


def _directed(skin: Skin, chart: Chart, line: MapLine, upper: bool, rib: bool) -> _Directed | None:
    """A rib's line, positive outboard, or a spar's, positive aft, on a side of a chart."""
    found = [_on_side(skin, chart, piece, upper) for piece in pieces_on(line.flat, chart)]
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
    below = isinstance(patch, Stationed) and patch.chorded and not upper
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
    if isinstance(patch, Stationed) and patch.chorded and bool(places.upper[0]) != upper:
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


def _edge_points(chart: Chart, edge: str, upper: bool) -> Array:
    param = edge_params(chart, edge, np.linspace(0.0, 1.0, 401))
    patch = unmirrored(chart.patch)
    if isinstance(patch, Stationed) and patch.chorded:
        param = param[(param[:, 0] >= 0.0) == upper]
    points = chart.flat_map.to_flat(param)
    return points if points[-1, 1] >= points[0, 1] else points[::-1]


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

    By station and % chord, or the angle round, where there is no rib and spar to measure from; "off
    the sheet" for a point that is on no chart. Whole mm.
    """
    skin = geometry.skin(skin_name)
    places = place_of(skin, points_of(flat)[:1])
    if len(places.chart) == 0 or places.chart[0] < 0:
        return "off the sheet"
    patch = unmirrored(skin.charts[int(places.chart[0])].patch)
    two_sided = isinstance(patch, Stationed) and patch.chorded
    side = f", {'upper' if places.upper[0] else 'lower'} side" if two_sided else ""
    tape = tape_of(geometry, skin_name, flat)
    if tape is not None:
        out = f"{abs(tape.outboard):.0f} mm {'outboard' if tape.outboard >= 0 else 'inboard'}"
        aft = f"{abs(tape.aft):.0f} mm {'aft' if tape.aft >= 0 else 'forward'} of {tape.spar}"
        return f"{tape.rib}, {out}, {aft}{side}"
    across = "" if np.isnan(places.chord[0]) else f", {places.chord[0]:.1f} % chord"
    if np.isfinite(places.angle[0]):
        across = f", {places.angle[0]:.0f} degrees round"
    return f"station {places.station[0]:.0f} mm{across}{side}"
