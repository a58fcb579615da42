"""A wing skin made by hand, so that drawings are tested without the rooms that build skins.

A straight wing of constant section: x = c s^2, z = h s (1 - s^2), spanwise along y. Extruded, so
the flat map is the arc length by the span, exactly.
"""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon, box

from mapper.job.entry import Entry, Outline
from mapper.surface.geometry import (
    Geometry,
    Lap,
    MapLine,
    Opening,
    Panel,
    Placement,
    Tolerance,
)
from mapper.surface.skin import Chart, Skin

CHORD, HEIGHT = 1400.0, 170.0


class Bent:
    """The patch: s in [-1, 1] round the section, t along the span, 0 to 1."""

    kind = "cone"
    s_lines = np.array([-1.0, 0.0, 1.0])
    t_lines = np.array([0.0, 1.0])

    def __init__(self, y0: float, y1: float, hand: float) -> None:
        self.y0, self.y1, self.hand = y0, y1, hand

    def at(self, s, t):
        s, t = np.broadcast_arrays(s, t)
        y = self.hand * (self.y0 + t * (self.y1 - self.y0))
        return np.stack([CHORD * s**2, y, HEIGHT * s * (1 - s**2)], axis=-1)

    def partials(self, s, t):
        s, t = np.broadcast_arrays(s, t)
        zero = np.zeros_like(s)
        ds = np.stack([2 * CHORD * s, zero, HEIGHT * (1 - 3 * s**2)], axis=-1)
        dt = np.stack([zero, zero + self.hand * (self.y1 - self.y0), zero], axis=-1)
        return ds, dt

    def station(self, s, t):
        return self.y0 + np.broadcast_arrays(s, t)[1] * (self.y1 - self.y0)

    def chord(self, s, t):
        return 100 * np.broadcast_arrays(s, t)[0] ** 2

    def upper(self, s, t):
        return np.broadcast_arrays(s, t)[0] >= 0

    def to_dict(self):
        return {}


_S = np.linspace(-1, 1, 4001)
_D = np.hypot(2 * CHORD * _S, HEIGHT * (1 - 3 * _S**2))
_ARC = np.concatenate([[0], np.cumsum((_D[1:] + _D[:-1]) / 2 * np.diff(_S))])
_ARC -= np.interp(0.0, _S, _ARC)


class Unrolled:
    isometric = True

    def __init__(self, y0: float, y1: float, sign: float, shift: float = 0.0) -> None:
        self.y0, self.y1, self.sign, self.shift = y0, y1, sign, shift

    def to_flat(self, param):
        param = np.asarray(param, dtype=float)
        x = self.y0 + self.shift + param[:, 1] * (self.y1 - self.y0)
        return np.stack([x, self.sign * np.interp(param[:, 0], _S, _ARC)], axis=1)

    def to_param(self, flat):
        flat = np.asarray(flat, dtype=float)
        s = np.interp(self.sign * flat[:, 1], _ARC, _S)
        return np.stack([s, (flat[:, 0] - self.shift - self.y0) / (self.y1 - self.y0)], axis=1)

    def to_dict(self):
        return {}


def wing_skin(span: float = 4200.0, *, mirrored: bool = False, name: str = "wing skin") -> Skin:
    hand = -1.0 if mirrored else 1.0
    patch, flat_map = Bent(0.0, span, hand), Unrolled(0.0, span, hand)
    s, t = np.meshgrid(np.linspace(-1, 1, 81), np.linspace(0, 1, 41), indexing="ij")
    param = np.stack([s.ravel(), t.ravel()], axis=1)
    i, j = np.meshgrid(np.arange(80), np.arange(40), indexing="ij")
    a = (i * 41 + j).ravel()
    quads = np.stack([a, a + 1, a + 42, a + 41], axis=1)
    triangles = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]).astype(np.int32)
    if mirrored:
        triangles = triangles[:, ::-1].copy()
    flat = flat_map.to_flat(param)
    low, high = flat[:, 1].min(), flat[:, 1].max()
    rim = np.array([[0, low], [span, low], [span, high], [0, high]])
    chart = Chart("wrap", patch, flat_map, rim, 0, len(triangles))
    f = flat[triangles]
    u, v = f[:, 1] - f[:, 0], f[:, 2] - f[:, 0]
    return Skin(
        name=name,
        face_names=("outer", "inner"),
        points=patch.at(param[:, 0], param[:, 1]),
        flat=flat,
        param=param,
        triangles=triangles,
        chart_of=np.zeros(len(triangles), dtype=np.int16),
        patch_area=np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2,
        station=patch.station(param[:, 0], param[:, 1]),
        chord=patch.chord(param[:, 0], param[:, 1]),
        charts=(chart,),
        mirrored=mirrored,
    )


def multi(shape) -> MultiPolygon:
    return shape if isinstance(shape, MultiPolygon) else MultiPolygon([shape])


def arc(chord: float, side: float = 1.0) -> float:
    """Flat y of a % chord on the upper (+1) or lower (-1) side of the right wing."""
    return float(np.interp(side * np.sqrt(chord / 100), _S, _ARC))


def wing(span: float = 4200.0, *, mirrored: bool = False, part: str = "right wing") -> Geometry:
    """A whole wing with ribs, spars, seams, panels, an opening and a lap."""
    skin = wing_skin(span, mirrored=mirrored)
    sign = -1.0 if mirrored else 1.0
    edge = arc(100)

    def at(x0, y0, x1, y1):
        return [(x0, sign * y0), (x1, sign * y1)]

    lines = []
    for i, x in enumerate(np.linspace(span / 12, span * 11 / 12, 11), 1):
        line = MultiLineString([at(x, -edge, x, edge)])
        lines.append(MapLine(f"rib {i}", "rib", skin.name, line))
        lines.append(MapLine(f"rivets {i}", "rivet row", skin.name, line, pitch=25.0))
    for name, chord in (("front spar", 20), ("rear spar", 66)):
        both = [at(0, arc(chord, k), span, arc(chord, k)) for k in (1, -1)]
        lines.append(MapLine(name, "spar", skin.name, MultiLineString(both)))
    for name, x in (("seam A", span * 0.3), ("seam B", span * 0.68)):
        lines.append(MapLine(name, "seam", skin.name, MultiLineString([at(x, -edge, x, edge)])))
    panels = []
    cuts = [0, span * 0.3, span * 0.68, span]
    for k, (x0, x1) in enumerate(pairwise(cuts)):
        for word, y0, y1 in (("upper", 0.0, edge), ("lower", -edge, 0.0)):
            area = box(x0, min(sign * y0, sign * y1), x1, max(sign * y0, sign * y1))
            panels.append(Panel(f"{word} {k + 1}", skin.name, multi(area), gauge=0.8))
    hole = multi(shapely.Point(span * 0.5, -sign * 0.5 * edge).buffer(130, quad_segs=32))
    lap = multi(box(span * 0.3, -edge, span * 0.3 + 22, edge))
    return Geometry(
        part=part,
        shape="loft",
        skins=(skin,),
        tolerance=Tolerance("tape", 1.0),
        placement=Placement(np.zeros(3), np.eye(3)),
        lines=tuple(lines),
        panels=tuple(panels),
        openings=(Opening("access hole", skin.name, hole),),
        laps=(Lap("lap A", skin.name, lap, 1e5),),
        mirrored=mirrored,
    )


KINDS = (
    "finding", "marking", "coat zone", "application", "blasting round", "masking",
    "inspected area", "treatment", "paint application", "trial patch",
)  # fmt: skip


def entry(number: int, kind: str, shape, *, face: str = "outer", day: int = 1, **more) -> Entry:
    return Entry(
        id=f"00000000-0000-4000-8000-{number:012d}",
        job_id="job",
        part_id="part",
        kind=kind,
        outline=Outline("wing skin", face, shape),
        by=more.pop("by", "person-1"),
        device_time=datetime(2024, 5, day, 12, tzinfo=UTC),
        geometry="0" * 64,
        **more,
    )


def many(geometry: Geometry, count: int = 60, seed: int = 4) -> tuple[Entry, ...]:
    """Entries of every kind scattered over the sheet, like a busy inspection."""
    rng = np.random.default_rng(seed)
    skin = geometry.skins[0]
    sheet = Polygon(skin.charts[0].rim)
    x0, y0, x1, y1 = sheet.bounds
    out = [
        entry(0, "inspected area", multi(box(0.1 * x1, 0.1 * y0, 0.8 * x1, 0.9 * y1))),
        entry(1, "coat zone", multi(box(0.35 * x1, 0.2 * y1, x1, 0.8 * y1))),
        entry(2, "application", multi(box(0.7 * x1, 0.6 * y0, x1, 0.1 * y0))),
    ]
    for n in range(3, count):
        at = rng.uniform([x0, y0], [x1, y1])
        kind = KINDS[n % len(KINDS)] if n % 3 else "finding"
        if n % 7 == 0:
            out.append(entry(n, "reading", shapely.MultiPoint([at])))
            continue
        if n % 11 == 0:
            path = at + np.cumsum(rng.normal(0, 60, (8, 2)), axis=0)
            out.append(entry(n, "finding", MultiLineString([path])))
            continue
        turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        radius = float(rng.choice([3, 25, 60, 140])) * rng.uniform(0.75, 1.2, 24)
        ring = at + radius[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        shape = shapely.make_valid(Polygon(ring), method="structure")
        out.append(entry(n, kind, multi(shape)))
    return tuple(out)
