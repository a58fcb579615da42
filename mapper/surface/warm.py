"""Compile the kernels once, so that nobody waits for it: `python -m mapper.surface.warm`.

numba compiles a function when it is first called and keeps the result beside the source (or in the
user's cache folder, where that cannot be written). The set-up calls this; without it the first
drawn region of a twisted skin takes some ten seconds longer.
"""

from __future__ import annotations

import numpy as np
from shapely import MultiPolygon, Polygon

from mapper.surface import measure, region
from mapper.surface.build import make_skin
from mapper.surface.distance import between
from mapper.surface.imported.build import skins_of
from mapper.surface.imported.mend import mend
from mapper.surface.imported.read import RawMesh
from mapper.surface.smooth import smoother_of
from meshes.loft import LoftSection, loft
from meshes.sections import Naca4


def warm() -> float:
    """Run every kernel once on a small twisted sheet and a small mesh; mm2 of what was drawn."""
    section = Naca4("0012")
    (sheet, *_) = loft([LoftSection(0.0, 400.0, section), LoftSection(300.0, 300.0, section, 4.0)])
    skin = make_skin(sheet, triangles=600)
    middle = skin.flat.mean(axis=0)
    shape = MultiPolygon([Polygon(middle + 20.0 * np.array([(0, 0), (3, 0), (3, 2), (0, 2)]))])
    opening = MultiPolygon([Polygon(middle + np.array([(-30, -5), (-20, -5), (-20, 5), (-30, 5)]))])
    spot = region.disc(skin, middle, 25.0, opening)
    between(skin, middle, middle + 40.0, opening)
    measure.perimeter(skin, shape)
    smoother = smoother_of(skin, 20.0, opening)
    smoother.spread(smoother.everywhere())
    points = np.array([[0.0, 0, 0], [50, 0, 0], [50, 50, 10], [0, 50, 0]])
    raw = RawMesh("made", "mm", points, np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32))
    skins_of(mend(raw))
    return measure.area(skin, shape) + measure.area(skin, spot)


if __name__ == "__main__":
    warm()
