"""Skins and awkward regions shared by the tests of measuring, made once each."""

from __future__ import annotations

from functools import cache

import numpy as np
from shapely import MultiPolygon, Point, Polygon, box

from mapper.surface.build import make_skin
from mapper.surface.skin import Skin
from meshes.loft import LoftSection, loft
from meshes.plate import plate
from meshes.sections import Naca4
from meshes.tube import tube


@cache
def tapered(triangles: int = 20_000, mirrored: bool = False) -> Skin:
    """Root 2 m, tip 1 m, semispan 5 m, NACA 0012, straight quarter chord: a cone, no stretch."""
    sections = [
        LoftSection(0, 2000, Naca4("0012")),
        LoftSection(5000, 1000, Naca4("0012")),
    ]
    return make_skin(loft(sections)[0], triangles=triangles, mirrored=mirrored)


@cache
def twisted(triangles: int = 20_000, mirrored: bool = False) -> Skin:
    """NACA 2412 to 0009 with 3 degrees of washout, one chart, stretched."""
    sections = [
        LoftSection(500, 1600, Naca4("2412")),
        LoftSection(4000, 1000, Naca4("0009"), twist=-3.0, dihedral=5.0),
    ]
    return make_skin(loft(sections)[0], triangles=triangles, mirrored=mirrored)


@cache
def two_charts(mirrored: bool = False) -> Skin:
    """An untwisted inner chart glued to a twisted outer one at station 3000."""
    sections = [
        LoftSection(0, 2000, Naca4("2412")),
        LoftSection(3000, 1500, Naca4("2412"), dihedral=5.0),
        LoftSection(5000, 900, Naca4("0009"), twist=-3.0, dihedral=5.0),
    ]
    return make_skin(loft(sections)[0], mirrored=mirrored)


@cache
def pipe(diameter0: float = 40.0, diameter1: float = 40.0, length: float = 1000.0) -> Skin:
    return make_skin(tube(diameter0, diameter1, length)[0])


@cache
def sheet() -> Skin:
    """A flat plate 600 mm outboard by 400 mm aft."""
    return make_skin(plate(np.array([[0.0, 0.0], [600, 0], [600, 400], [0, 400]]))[0])


def awkward(skin: Skin) -> dict[str, MultiPolygon]:
    """Regions that catch mistakes, placed about a skin's first chart, by name."""
    rim = Polygon(skin.charts[0].rim)
    x0, y0, x1, y1 = rim.bounds
    middle = rim.representative_point()
    r = 0.1 * min(x1 - x0, y1 - y0)
    corner = skin.flat[skin.triangles[len(skin.triangles) // 2]]
    return {
        "empty": MultiPolygon(),
        "holed": MultiPolygon([middle.buffer(2 * r).difference(middle.buffer(r))]),
        "round the nose": MultiPolygon([Point(middle.x, 0.0).buffer(2 * r)]),
        "two pieces": MultiPolygon([middle.buffer(r), Point(middle.x + 4 * r, middle.y).buffer(r)]),
        "over the edge": MultiPolygon([box(x0 - 5 * r, y0 - 5 * r, middle.x, middle.y)]),
        "far beyond": MultiPolygon([box(x0 - 1e6, y0 - 1e6, x1 + 1e6, y1 + 1e6)]),
        "off the sheet": MultiPolygon([box(x0 - 3 * r, y1 + r, x1, y1 + 2 * r)]),
        "one triangle": MultiPolygon([Polygon(corner)]),
        "corner to corner": MultiPolygon([box(*corner[0], *(corner[0] + [r, r]))]),
        "pin prick": MultiPolygon([middle.buffer(0.5)]),
        "hair": MultiPolygon([box(x0, middle.y, x1, middle.y + 1e-3)]),
    }
