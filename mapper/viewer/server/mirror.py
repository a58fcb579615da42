"""The mirror place of an outline: left and right parts made from one part file.

A mirrored part has the same charts, parameters, stations and % chord; its flat map is the other
hand's with y negated, to the last bit (`mapper.surface.build.mirror`). So the mirror of a region is
the region with y negated, and nothing is worked out.
"""

from __future__ import annotations

import hashlib

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from mapper.errors import MapperError
from mapper.surface.geometry import Geometry

FLIP = np.array([1.0, -1.0])


def mirror_key(geometry: Geometry) -> str:
    """Equal for two versions just where one is the mirror of the other, or both are alike: a digest
    of the flat maps as the right-hand part has them, stations and faces."""
    found = hashlib.sha256()
    for skin in geometry.skins:
        found.update(repr((skin.name, skin.face_names, skin.flat.shape)).encode())
        flat = skin.flat * FLIP if geometry.mirrored else skin.flat
        for values in (flat + 0.0, skin.param + 0.0, skin.station + 0.0):
            found.update(values.tobytes())
    return found.hexdigest()


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
