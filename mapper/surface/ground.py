"""A skin by the triangles that its flat maps are made of: what is measured is measured on them.

About openings the skin's own triangles are others than those of a stretched chart's map, in which
parameters and flat mm are affine images of each other. Areas, and how far the map is stretched,
are told by the map's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from mapper.surface.flatmap import MirroredMap, mesh_map_of
from mapper.surface.meshmap import MeshMap
from mapper.surface.skin import FlatMap, Skin

Array = NDArray[np.float64]

_GROUNDS: WeakKeyDictionary[Skin, Skin] = WeakKeyDictionary()


def ground_of(skin: Skin) -> Skin:
    """The skin with the triangles of its flat maps, made once; itself where they are its own."""
    if all((m := mesh_map_of(c.flat_map)) is None or m.areas is None for c in skin.charts):
        return skin
    found = _GROUNDS.get(skin)
    if found is None:
        found = _GROUNDS[skin] = _made(skin)
    return found


def _made(skin: Skin) -> Skin:
    parts = [_part(skin, number) for number in range(len(skin.charts))]
    charts = []
    corners = [0, *np.cumsum([len(part.param) for part in parts])]
    faces = [0, *np.cumsum([len(part.triangles) for part in parts])]
    for chart, first, last in zip(skin.charts, faces, faces[1:]):
        flat_map = _bare(chart.flat_map)
        charts.append(replace(chart, flat_map=flat_map, first=int(first), last=int(last)))

    def places(what: str) -> Array:
        return np.concatenate(
            [
                getattr(chart.patch, what)(part.param[:, 0], part.param[:, 1])
                for chart, part in zip(charts, parts)
            ]
        )

    return replace(
        skin,
        points=places("at"),
        flat=np.concatenate([c.flat_map.to_flat(p.param) for c, p in zip(charts, parts)]),
        param=np.concatenate([p.param for p in parts]),
        triangles=np.concatenate([p.triangles + k for p, k in zip(parts, corners)]),
        chart_of=np.repeat(np.arange(len(parts)), np.diff(faces)),
        patch_area=np.concatenate([p.area for p in parts]),
        station=places("station"),
        chord=places("chord"),
        charts=tuple(charts),
        # Stitches name points of imported charts, which have no map of a grid: there are none here.
        stitches=(),
    )


def _bare(flat_map: FlatMap) -> FlatMap:
    """The map without the areas of its triangles: here they are the skin's own."""
    if isinstance(flat_map, MirroredMap):
        return MirroredMap(_bare(flat_map.of))
    return replace(flat_map, areas=None) if isinstance(flat_map, MeshMap) else flat_map


@dataclass(frozen=True, eq=False)
class _Part:
    """One chart: param (N, 2), triangles (M, 3) into them, area (M,)."""

    param: Array
    triangles: NDArray[np.int64]
    area: Array


def _part(skin: Skin, number: int) -> _Part:
    chart = skin.charts[number]
    mesh = mesh_map_of(chart.flat_map)
    if mesh is None or mesh.areas is None:
        rows = slice(chart.first, chart.last)
        used, local = np.unique(skin.triangles[rows], return_inverse=True)
        triangles = local.reshape(-1, 3).astype(np.int64)
        return _Part(skin.param[used], triangles, skin.patch_area[rows])
    grid = mesh.triangles.astype(np.int64)
    return _Part(mesh.grid_params, grid[:, ::-1] if skin.mirrored else grid, mesh.areas.reshape(-1))
