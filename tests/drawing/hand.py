"""An invented wing with everything a map shows, and entries scattered over it."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import shapely
import shapely.ops
from shapely import MultiLineString, MultiPolygon, Polygon, box

from mapper.job.entry import Entry, Outline
from mapper.surface.build import make_skin
from mapper.surface.geometry import (
    Geometry,
    Lap,
    MapLine,
    Opening,
    Panel,
    Placement,
    Tolerance,
)
from mapper.surface.lines import chord_line, station_line
from mapper.surface.place import flat_of
from mapper.surface.skin import Skin
from meshes.loft import LoftSection, loft
from meshes.sections import Naca4

NO_TURN = Placement(np.zeros(3), np.eye(3))


def wing_skin(span: float = 4200.0, tip: float = 950.0, *, mirrored: bool = False) -> Skin:
    sections = (
        LoftSection(0.0, 1400.0, Naca4("2412")),
        LoftSection(span, tip, Naca4("2412")),
    )
    (sheet,) = loft(sections)
    return make_skin(sheet, mirrored=mirrored, triangles=6000)


def multi(shape) -> MultiPolygon:
    return shape if isinstance(shape, MultiPolygon) else MultiPolygon([shape])


def wing(
    span: float = 4200.0,
    *,
    mirrored: bool = False,
    part: str = "right wing",
    placement: Placement = NO_TURN,
) -> Geometry:
    """A whole wing with ribs, spars, seams, panels, an opening and a lap."""
    skin = wing_skin(span, mirrored=mirrored)
    name = skin.name
    lines = []
    for i, x in enumerate(np.linspace(span / 12, span * 11 / 12, 11), 1):
        line = station_line(skin, float(x))
        lines.append(MapLine(f"rib {i}", "rib", name, line))
        lines.append(MapLine(f"rivets {i}", "rivet row", name, line, pitch=25.0))
    for word, chord in (("front spar", 20.0), ("rear spar", 66.0)):
        lines.append(MapLine(word, "spar", name, chord_line(skin, chord)))
    cuts = [0.0, span * 0.3, span * 0.68, span]
    for word, x in (("seam A", cuts[1]), ("seam B", cuts[2])):
        lines.append(MapLine(word, "seam", name, station_line(skin, x)))
    upper = Polygon(skin.charts[0].rim)
    nose = chord_line(skin, 0.0)
    # A hair longer at both ends, so that it cuts the outline whatever the rounding.
    ends = shapely.get_coordinates(nose)
    cut = np.pad(ends, ((1, 1), (0, 0)), mode="edge")
    cut[0, 0] -= 9.0
    cut[-1, 0] += 9.0
    halves = shapely.get_parts(shapely.ops.split(upper, shapely.LineString(cut)))
    sign = -1.0 if mirrored else 1.0
    panels = []
    for k, (x0, x1) in enumerate(pairwise(cuts)):
        for half in halves:
            word = "upper" if half.centroid.y * sign > 0 else "lower"
            region = shapely.intersection(half, box(x0, -1e5, x1, 1e5))
            panels.append(Panel(f"{word} {k + 1}", name, multi(region), gauge=0.8))
    middle = flat_of(skin, span * 0.5, 50.0, False)[0]
    hole = multi(shapely.Point(middle).buffer(110, quad_segs=32))
    lap = multi(shapely.intersection(upper, box(cuts[1], -1e5, cuts[1] + 22, 1e5)))
    return Geometry(
        part=part,
        shape="loft",
        skins=(skin,),
        tolerance=Tolerance("tape", 1.0),
        placement=placement,
        lines=tuple(lines),
        panels=tuple(panels),
        openings=(Opening("access hole", name, hole),),
        laps=(Lap("lap A", name, lap, 1e5),),
        mirrored=mirrored,
    )


SKIN = wing_skin().name

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
        outline=Outline(SKIN, face, shape),
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
        while not sheet.contains(shapely.Point(at)):
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
