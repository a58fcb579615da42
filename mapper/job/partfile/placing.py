"""Where a part lies in the aircraft's frame: from its own placement, or through its parent."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mapper.job.partfile.spec import PartSpec, SpacePoint
from mapper.surface.geometry import Placement

Array = NDArray[np.float64]
_MIRROR = np.diag([1.0, -1.0, 1.0])


def rotation(angles: SpacePoint) -> Array:
    """(3, 3): turned about the aft axis first, then the outboard, then the up axis; degrees."""
    a, b, c = np.radians(angles)
    ca, sa, cb, sb, cc, sc = np.cos(a), np.sin(a), np.cos(b), np.sin(b), np.cos(c), np.sin(c)
    about_aft = np.array([[1.0, 0.0, 0.0], [0.0, ca, -sa], [0.0, sa, ca]])
    about_outboard = np.array([[cb, 0.0, sb], [0.0, 1.0, 0.0], [-sb, 0.0, cb]])
    about_up = np.array([[cc, -sc, 0.0], [sc, cc, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(about_up @ about_outboard @ about_aft)


def placement_of(spec: PartSpec) -> Placement:
    """The part's placement in the aircraft, mm; in its parent's frame where only the parent's name
    is known. A left part is placed as the mirror image of what the file says."""
    origin, turn = np.zeros(3), np.eye(3)
    if spec.placement is not None:
        origin, turn = np.array(spec.placement.origin), rotation(spec.placement.rotation)
    elif spec.attachment is not None:
        origin, turn = np.array(spec.attachment.origin), rotation(spec.attachment.rotation)
    leans = spec.placement is None and spec.parent is not None
    if leans and spec.parent is not None:
        base = spec.parent.placement or spec.parent.attachment
        if base is not None:
            first = rotation(base.rotation)
            origin, turn = np.array(base.origin) + first @ origin, first @ turn
    if spec.mirrored:
        # The mirrored arrays need a proper rotation: mirror, place, mirror back.
        origin, turn = _MIRROR @ origin, _MIRROR @ turn @ _MIRROR
    for array in (origin, turn):
        array.setflags(write=False)
    return Placement(origin, turn)


def attached_to(spec: PartSpec) -> str:
    """Name of the part this one is attached to; "" for none."""
    if spec.attachment is not None:
        return spec.attachment.to
    if spec.placement is None and spec.parent is not None:
        return spec.parent.part
    return ""
