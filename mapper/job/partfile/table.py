"""The areas of a part: for every skin, panel and face, with the shape's tolerance."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon

from mapper.late import Late
from mapper.surface.geometry import Geometry, Panel
from mapper.surface.measure import area, length, perimeter, whole_area
from mapper.surface.near import free_edges
from mapper.surface.region import difference, union, whole
from mapper.surface.round import has_angles
from mapper.surface.skin import Skin
from mapper.surface.stretch import worst_stretch
from meshes.body import BodyPatch
from meshes.facets import FacetPatch
from meshes.mirror import unmirrored
from meshes.turned import TurnedPatch

if TYPE_CHECKING:
    import pandas as pd
else:
    pd = Late("pandas")

COLUMNS = (
    "skin", "panel", "face", "area_mm2", "low", "high", "openings_mm2",
    "developed_length_mm", "developed_width_mm", "perimeter_mm", "stretch",
    "alloy", "gauge_mm", "gauge_how", "cladding", "thin",
)  # fmt: skip
_EDGES = {
    "loft": {"t0": "root", "t1": "tip", "s0": "lower trailing edge", "s1": "upper trailing edge"},
    "tube": {"t0": "inboard end", "t1": "far end"},
    "upper piece": {
        "t0": "inboard edge", "t1": "outboard edge", "s0": "forward edge", "s1": "aft edge",
    },
    "lower piece": {
        "t0": "inboard edge", "t1": "outboard edge", "s0": "aft edge", "s1": "forward edge",
    },
    "body": {
        "t0": "front", "t1": "aft end", "s0": "lower edge", "s1": "upper edge",
    },
    "strip": {
        "t0": "front", "t1": "aft end", "s0": "first edge", "s1": "last edge",
    },
    "front": {
        "t0": "inboard edge", "t1": "outboard edge",
        "s0": "lower aft edge", "s1": "upper aft edge",
    },
    "web": {"t0": "inboard end", "t1": "outboard end", "s0": "lower edge", "s1": "upper edge"},
}  # fmt: skip
_EDGE_POINTS = 2001


def area_rows(geometry: Geometry) -> list[dict[str, Any]]:
    """One row (by COLUMNS) for each face of each skin (panel "") and of each of its panels.

    Areas mm2 with openings taken off; low, high by the shape's tolerance; openings_mm2: what was
    taken off. Developed length and width: extent on the flat map, over several charts the sum of
    their lengths. perimeter mm, openings included. Panels of a skin of one sheet are listed too.
    """
    return [row for skin in geometry.skins for row in _skin_rows(geometry, skin)]


def area_table(geometry: Geometry) -> pd.DataFrame:
    """`area_rows` as a table."""
    return pd.DataFrame(area_rows(geometry), columns=list(COLUMNS))


def _skin_rows(geometry: Geometry, skin: Skin) -> Iterator[dict[str, Any]]:
    percent = geometry.tolerance.percent / 100.0
    stretch = worst_stretch(skin).words
    holes = [o.flat for o in geometry.openings if o.skin == skin.name]
    gone = union(*holes) if holes else MultiPolygon()
    sheet = whole(skin)
    left = difference(sheet, gone) if holes else sheet
    off = area(skin, gone)
    panels = [p for p in geometry.panels if p.skin == skin.name]
    parts: list[tuple[Panel | None, MultiPolygon, float, float]] = [
        (None, left, whole_area(skin) - off, off)
    ]
    for panel in panels:
        hull = union(panel.flat, gone) if holes else panel.flat
        taken = [h for h in holes if hull.buffer(0.01).contains(h) and _inside(panel, h)]
        parts.append((panel, panel.flat, area(skin, panel.flat), area(skin, union(*taken))))
    for panel_or_none, flat, size, openings in parts:
        along, across = developed_size(skin, flat)
        edge = perimeter(skin, flat)
        for face in skin.face_names:
            yield {
                "skin": skin.name,
                "panel": panel_or_none.name if panel_or_none else "",
                "face": face,
                "area_mm2": size,
                "low": size * (1.0 - percent),
                "high": size * (1.0 + percent),
                "openings_mm2": openings,
                "developed_length_mm": along,
                "developed_width_mm": across,
                "perimeter_mm": edge,
                "stretch": stretch,
                "alloy": panel_or_none.alloy if panel_or_none else "",
                "gauge_mm": panel_or_none.gauge if panel_or_none else None,
                "gauge_how": panel_or_none.gauge_how if panel_or_none else "",
                "cladding": panel_or_none.cladding if panel_or_none else "",
                "thin": panel_or_none.thin if panel_or_none else False,
            }


def _inside(panel: Panel, hole: MultiPolygon) -> bool:
    """Whether an opening was cut out of this panel: its edge lies on the panel's."""
    touch = shapely.intersection(panel.flat.boundary.buffer(0.01), hole.boundary)
    return bool(touch.length > 0.5 * hole.boundary.length)


def developed_size(skin: Skin, flat: MultiPolygon) -> tuple[float, float]:
    """Length (outboard) and width of a region on the flat map, mm; (0, 0) for an empty one."""
    boxes = []
    for chart in skin.charts:
        on = shapely.intersection(flat, shapely.Polygon(chart.rim))
        if not on.is_empty and on.area > 0.0:
            boxes.append(on.bounds)
    if not boxes:
        return 0.0, 0.0
    # Charts lie beside each other one way or the other: there their lengths add up.
    return _covered([(b[0], b[2]) for b in boxes]), _covered([(b[1], b[3]) for b in boxes])


def _covered(spans: list[tuple[float, float]]) -> float:
    """Length of the union of intervals."""
    total, reach = 0.0, -np.inf
    for low, high in sorted(spans):
        total += max(0.0, high - max(low, reach))
        reach = max(reach, high)
    return float(total)


def edge_lengths(skin: Skin) -> dict[str, float]:
    """The free edges of a skin and their true lengths, mm: "root", "tip", "upper trailing edge" ...

    A flat piece has one, "outline", without its openings; a mesh "free edge", none where it is
    closed.
    """
    if len(skin.charts) == 1 and skin.charts[0].patch.kind == "plane":
        ring = skin.charts[0].rim
        closed = LineString(np.concatenate([ring, ring[:1]]))
        return {"outline": length(skin, MultiLineString([closed]))}
    if isinstance(unmirrored(skin.charts[0].patch), FacetPatch):
        # A mesh has no ends of its own, only where it stops.
        return {f"free {word}": length(skin, line) for word, line in free_edges(skin).items()}
    words = _EDGES[_edge_kind(skin)]
    glued = {(g.chart_a, g.edge_a) for g in skin.glue} | {(g.chart_b, g.edge_b) for g in skin.glue}
    found: dict[str, float] = {}
    for i, chart in enumerate(skin.charts):
        for edge, word in words.items():
            if (i, edge) not in glued:
                found[word] = found.get(word, 0.0) + _edge_length(chart.patch, edge)
    return found


def _edge_kind(skin: Skin) -> str:
    patch = skin.charts[0].patch
    chorded = bool(np.isfinite(patch.chord(np.array([0.5]), np.array([0.5]))).all())
    if chorded:
        # A curved wing has its two sides on two charts.
        ends = [(c.patch.s_lines[0], c.patch.s_lines[-1]) for c in skin.charts]
        if min(low for low, _ in ends) == -1.0 and max(high for _, high in ends) == 1.0:
            return "loft"
        if patch.s_lines[0] < 0.0 < patch.s_lines[-1]:
            return "front"
        return "upper piece" if patch.s_lines[-1] > 0.0 else "lower piece"
    if isinstance(unmirrored(patch), BodyPatch | TurnedPatch):
        return "body" if skin.glue and has_angles(skin) else "strip"
    # A skin glued to itself is round, whatever the shape is called.
    return "tube" if any(g.chart_a == g.chart_b for g in skin.glue) else "web"


def _edge_length(patch: Any, edge: str) -> float:
    """Length mm of an edge of a patch, by Gauss points between its mesh lines."""
    across = edge[0] == "s"
    lines = patch.t_lines if across else patch.s_lines
    fixed = (patch.s_lines if across else patch.t_lines)[0 if edge[1] == "0" else -1]
    cuts = np.concatenate([np.linspace(a, b, 65)[:-1] for a, b in pairwise(lines)])
    cuts = np.append(cuts, lines[-1])
    nodes, weights = np.polynomial.legendre.leggauss(8)
    half = 0.5 * np.diff(cuts)
    at = (cuts[:-1] + half)[:, None] + half[:, None] * nodes
    other = np.full_like(at, fixed)
    by_s, by_t = patch.partials(other, at) if across else patch.partials(at, other)
    speed: NDArray[np.float64] = np.linalg.norm(by_t if across else by_s, axis=-1)
    return float(np.sum(half[:, None] * weights * speed))


def lap_rows(geometry: Geometry) -> list[dict[str, Any]]:
    """Hidden areas: lap, skin, strip_mm2 (counted once, outside), hidden_mm2 (both surfaces)."""
    return [
        {
            "lap": lap.name,
            "skin": lap.skin,
            "strip_mm2": area(geometry.skin(lap.skin), lap.flat),
            "hidden_mm2": lap.hidden_area,
        }
        for lap in geometry.laps
    ]
