"""The slow, independent way to an area: cut the region by every triangle and integrate each piece.

Nothing here uses the field or the walk: shapely cuts, a 64 point rule integrates the exact surface
through the evaluator over each piece.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.polynomial.legendre import leggauss


def rule(n=8):
    """Shares (n * n, 3) and weights of a collapsed Gauss rule on a triangle."""
    x, w = leggauss(n)
    x, w = 0.5 * (x + 1), 0.5 * w
    u = np.repeat(x, n)
    v = np.tile(x, n) * (1 - u)
    return np.stack([1 - u - v, u, v], -1), 2 * np.outer(w, w).ravel() * (1 - u)


def slow_integral(skin, region, density=None, n=8) -> float:
    """Integral of a density (1 without one) over a region, whole and crossed triangles alike."""
    corners = skin.flat[skin.triangles]
    outlines = shapely.polygons(corners)
    shapely.prepare(region)
    touched = np.flatnonzero(shapely.intersects(outlines, region))
    pieces, owner = [], []
    for k in touched:
        cut = shapely.intersection(outlines[k], region)
        for ring in shapely.get_rings(shapely.get_parts(shapely.orient_polygons(cut))):
            # A fan of signed triangles: each lies in the mesh triangle, holes run the other way.
            points = shapely.get_coordinates(ring)[:-1]
            for i in range(1, len(points) - 1):
                pieces.append([points[0], points[i], points[i + 1]])
                owner.append(k)
    if not pieces:
        return 0.0
    shares, weights = rule(n)
    pieces, owner = np.array(pieces), np.array(owner)
    total = 0.0
    for chart in skin.charts:
        here = (owner >= chart.first) & (owner < chart.last)
        if not np.any(here):
            continue
        at = np.einsum("gc,mcd->mgd", shares, pieces[here])
        tri = corners[owner[here]]
        e1, e2 = tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0]
        d = at - tri[:, :1]
        whole = (e1[:, 0] * e2[:, 1] - e1[:, 1] * e2[:, 0])[:, None]
        u = (d[..., 0] * e2[:, None, 1] - d[..., 1] * e2[:, None, 0]) / whole
        v = (e1[:, None, 0] * d[..., 1] - e1[:, None, 1] * d[..., 0]) / whole
        q = skin.param[skin.triangles[owner[here]]]
        f1, f2 = q[:, 1] - q[:, 0], q[:, 2] - q[:, 0]
        param = q[:, :1] + u[..., None] * f1[:, None] + v[..., None] * f2[:, None]
        ds, dt = chart.patch.partials(param[..., 0], param[..., 1])
        jac = np.abs(f1[:, 0] * f2[:, 1] - f1[:, 1] * f2[:, 0]) / np.abs(whole[:, 0])
        values = np.linalg.norm(np.cross(ds, dt), axis=-1)
        if chart.flat_map.isometric:
            # On an exact development a flat triangle is not the image of a parameter triangle:
            # each place is found through the map, and flat area is true area (identity).
            param = chart.flat_map.to_param(at.reshape(-1, 2)).reshape(at.shape)
            values, jac = np.ones(at.shape[:2]), np.ones(len(jac))
        if density is not None:
            space = chart.patch.at(param[..., 0], param[..., 1])
            values = values * density(space.reshape(-1, 3)).reshape(values.shape)
        a, b, c = pieces[here].transpose(1, 0, 2)
        plane = 0.5 * (
            (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        )
        total += float(np.sum(plane * jac * (values @ weights)))
    return total
