"""The mirror place of an outline: left and right parts made from one part file.

A mirrored part has the same charts, parameters, stations and % chord; its flat map is the other
hand's with y negated, to the last bit (`mapper.surface.build.mirror`). So the mirror of a region is
the region with y negated, and nothing is worked out. The triangles may differ: they have no say.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.flatmap import MirroredMap
from mapper.surface.geometry import Geometry
from meshes.mirror import unmirrored

FLIP = np.array([1.0, -1.0])


def mirror_key(geometry: Geometry) -> str:
    """Equal for two versions just where one is the mirror of the other, or both are alike: a digest
    of skins, faces, and the surfaces and flat maps of their charts as the right-hand part has them.
    """
    found = hashlib.sha256()
    for skin in geometry.skins:
        _take(found, (skin.name, skin.face_names, len(skin.charts)))
        for chart in skin.charts:
            flat_map = chart.flat_map
            _take(found, unmirrored(chart.patch).to_dict())
            _take(found, (flat_map.of if isinstance(flat_map, MirroredMap) else flat_map).to_dict())
    return found.hexdigest()


def _take(found: Any, value: Any) -> None:
    """Add a record's values to a digest, each with its sort."""
    if isinstance(value, Mapping):
        for name in sorted(value):
            _take(found, name)
            _take(found, value[name])
    elif isinstance(value, list | tuple):
        found.update(b"[")
        for one in value:
            _take(found, one)
        found.update(b"]")
    elif isinstance(value, np.ndarray):
        found.update(repr((value.dtype.str, value.shape)).encode())
        found.update(np.ascontiguousarray(value).tobytes())
    else:
        found.update(repr(value).encode() + b";")


def mirrors(one: Geometry, other: Geometry) -> bool:
    """Whether two geometry versions are the two hands of one shape."""
    return one.mirrored != other.mirrored and mirror_key(one) == mirror_key(other)


def mirrored_shape(there: Geometry, here: Geometry, shape: BaseGeometry) -> BaseGeometry:
    """A shape of a skin's flat plane on the part of the other hand, at its mirror place here.

    MapperError where the two parts do not mirror each other.
    """
    if not mirrors(there, here):
        raise MapperError(
            f"{there.part} and {here.part} do not mirror each other.",
            "A copy to the mirror place is between the left and the right part of one shape.",
            "Draw it on this part.",
        )
    return shapely.transform(shape, lambda xy: xy * FLIP + 0.0)
