"""Speed: the true area of a drawn 300 mm disc on a stretched skin, from its outline alone, against
shapely's overlay on all crossed triangles with the areas of the inner ones summed beforehand.

Goal: 5 times faster or more, both in one run. Run by `make bench`.
"""

from __future__ import annotations

from time import perf_counter

import numpy as np
import pytest
import shapely
from shapely import Polygon

from mapper.surface.measure import area
from tests.surface.examples import twisted

pytestmark = pytest.mark.bench

GOAL = 5.0


class Overlay:
    """The other way, as quick as shapely allows: a tree of triangles, one array call for the cuts.

    It takes one density for each crossed triangle, which is less work (and less right) than ours.
    """

    def __init__(self, skin):
        corners = skin.flat[skin.triangles]
        self.outlines = shapely.polygons(corners)
        self.tree = shapely.STRtree(self.outlines)
        self.true = skin.patch_area
        self.density = skin.patch_area / shapely.area(self.outlines)

    def area(self, region):
        touched = self.tree.query(region, predicate="intersects")
        shapely.prepare(region)
        inside = shapely.contains_properly(region, self.outlines[touched])
        crossed = touched[~inside]
        cut = shapely.area(shapely.intersection(self.outlines[crossed], region))
        return float(self.true[touched[inside]].sum() + np.sum(cut * self.density[crossed]))

    def crossed_only(self, region, inner, crossed):
        """Even the inner triangles known beforehand: only the overlay itself is timed."""
        cut = shapely.area(shapely.intersection(self.outlines[crossed], region))
        return float(inner + np.sum(cut * self.density[crossed]))


def _disc():
    angles = np.linspace(0, 2 * np.pi, 256, endpoint=False)
    middle = np.array([1700.0, 250.0])
    ring = middle + 300 * np.stack([np.cos(angles), np.sin(angles)], 1)
    return Polygon(ring)


def test_disc_against_overlay(benchmark, capsys):
    skin = twisted()
    other, region = Overlay(skin), _disc()
    touched = other.tree.query(region, predicate="intersects")
    inside = shapely.contains_properly(region, other.outlines[touched])
    inner, crossed = float(other.true[touched[inside]].sum()), touched[~inside]
    ours, theirs = area(skin, region), other.crossed_only(region, inner, crossed)
    assert ours == pytest.approx(theirs, rel=1e-3)

    def best(job, rounds=60):
        times = []
        for _ in range(rounds):
            start = perf_counter()
            job()
            times.append(perf_counter() - start)
        return float(np.median(times))

    benchmark(area, skin, region)
    mine = best(lambda: area(skin, region))
    overlay = best(lambda: other.crossed_only(region, inner, crossed))
    searched = best(lambda: other.area(region))
    with capsys.disabled():
        print(
            f"\n300 mm disc, {len(skin.triangles)} triangles, {len(crossed)} crossed: "
            f"outline alone {1e6 * mine:.0f} us, overlay {1e6 * overlay:.0f} us: "
            f"{overlay / mine:.1f} times (goal {GOAL:g}); overlay with its search "
            f"{1e6 * searched:.0f} us: {searched / mine:.1f} times"
        )
    assert overlay / mine >= GOAL
