"""The one skin type: a triangulation with a place in space, on the flat map and in its parameters.

A skin is one continuous surface of a part. It has one or more charts; a chart is laid flat in one
piece, and the charts of a skin lie apart in one plane, so a region on a skin is one MultiPolygon
there. Charts are joined along chart edges by glue.

Flat frame (mm): origin at the root's leading edge point, +x outboard, +y towards the upper trailing
edge; a mirrored (left) part negates y. Triangles are counter-clockwise on the flat map on both
hands. With x aft, y outboard, z up that is clockwise seen from the first face: their normal in
space points to the second one (inward), and the flat map with y drawn upward is the sheet seen from
inside. `mapper.surface.place.normal_of` always points outward, to the first face.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol, runtime_checkable

import numpy as np
import shapely
from numpy.typing import NDArray

from mapper.errors import MapperError
from meshes.patch import Patch

Array = NDArray[np.float64]

# A flat point this far (mm) beside a chart still counts as on its edge: outlines are kept on a grid
# of 1e-4 mm and rims are polygons within 1e-4 mm of the true outline.
EDGE = 1e-3


def _keep(
    owner: object,
    name: str,
    dtype: type[np.generic],
    shape: tuple[int | None, ...],
    nan: bool = False,
) -> None:
    """Replaces an array field by a read-only one of the right type; MapperError for a wrong one."""
    given = np.asarray(getattr(owner, name))
    values = np.array(given, dtype=dtype)
    fits = values.ndim == len(shape) and all(
        wanted is None or wanted == size for wanted, size in zip(shape, values.shape, strict=True)
    )
    if not fits or not np.array_equal(values, given, equal_nan=values.dtype.kind == "f"):
        raise MapperError(
            f"{type(owner).__name__}.{name} has shape {given.shape} and type {given.dtype}.",
            f"Shape {shape} and values that fit {np.dtype(dtype)} are allowed.",
        )
    if values.dtype.kind == "f" and not nan and not np.isfinite(values).all():
        raise MapperError(
            f"{type(owner).__name__}.{name} holds values that are not finite.",
            "Finite numbers are allowed.",
        )
    values.setflags(write=False)
    object.__setattr__(owner, name, values)


@runtime_checkable
class FlatMap(Protocol):
    """The development of one chart: parameters <-> flat coordinates, mm.

    isometric: lengths and areas on the flat map are those of the surface, exactly.
    """

    @property
    def isometric(self) -> bool: ...

    def to_flat(self, param: Array) -> Array:
        """(K, 2) parameters to (K, 2) flat mm."""
        ...

    def to_param(self, flat: Array) -> Array:
        """(K, 2) flat mm to (K, 2) parameters; NaN rows where the point is off the chart."""
        ...

    def to_dict(self) -> dict[str, Any]: ...


@dataclass(frozen=True, eq=False)
class Chart:
    """One piece of a skin laid flat.

    patch: the exact evaluator. flat_map: its development. rim: (K, 2) closed ring (first point not
    repeated), counter-clockwise, of the chart's exact outline in flat mm; dense enough (sagitta at
    most 1e-4 mm) that the plane area inside it is right to 1e-7.
    first, last: the chart's triangles are `skin.triangles[first:last]`.
    """

    name: str
    patch: Patch
    flat_map: FlatMap
    rim: Array
    first: int
    last: int

    def __post_init__(self) -> None:
        _keep(self, "rim", np.float64, (None, 2))
        if len(self.rim) < 3:
            raise MapperError(
                f"The rim of chart {self.name} has {len(self.rim)} points.", "3 or more."
            )

    @cached_property
    def outline(self) -> shapely.Polygon:
        """The rim as a polygon, prepared for many questions."""
        polygon = shapely.Polygon(self.rim)
        shapely.prepare(polygon)
        return polygon


@dataclass(frozen=True)
class Glue:
    """Two chart edges that are one line on the part.

    An edge is "s0", "s1", "t0" or "t1" (the side of the chart's parameter rectangle); both edges
    run in the same direction of the shared parameter, and points of equal parameter coincide.
    """

    chart_a: int
    edge_a: str
    chart_b: int
    edge_b: str


@dataclass(frozen=True, eq=False)
class Stitch:
    """Where two charts cut from a mesh meet: the same points, in the same order, as corners of
    either chart; line_a, line_b (K,) are numbers of the skin's points."""

    chart_a: int
    chart_b: int
    line_a: NDArray[np.int32]
    line_b: NDArray[np.int32]

    def __post_init__(self) -> None:
        _keep(self, "line_a", np.int32, (None,))
        _keep(self, "line_b", np.int32, (len(self.line_a),))
        if len(self.line_a) < 2:
            raise MapperError("A stitch has fewer than two points.", "Two or more are a line.")


@dataclass(frozen=True, eq=False)
class Skin:
    """One continuous surface of a part, laid flat.

    points (N, 3) mm in the part's frame; flat (N, 2) mm; param (N, 2); triangles (M, 3) int32,
    counter-clockwise on the flat map; chart_of (M,) int16; patch_area (M,) mm2:
    the exact area of each triangle's patch of surface; station (N,) mm; chord (N,) % or NaN.
    face_names: ("outer", "inner"), ("forward", "aft") or as the part file names them; the first is
    the one seen from outside.
    All arrays are read-only. Vertices on glue exist once per chart.
    """

    name: str
    face_names: tuple[str, ...]
    points: Array
    flat: Array
    param: Array
    triangles: NDArray[np.int32]
    chart_of: NDArray[np.int16]
    patch_area: Array
    station: Array
    chord: Array
    charts: tuple[Chart, ...]
    glue: tuple[Glue, ...] = ()
    mirrored: bool = False
    stitches: tuple[Stitch, ...] = ()

    def __post_init__(self) -> None:
        count = len(np.asarray(self.points))
        faces = len(np.asarray(self.triangles))
        _keep(self, "points", np.float64, (count, 3))
        _keep(self, "flat", np.float64, (count, 2))
        _keep(self, "param", np.float64, (count, 2))
        _keep(self, "triangles", np.int32, (faces, 3))
        _keep(self, "chart_of", np.int16, (faces,))
        _keep(self, "patch_area", np.float64, (faces,))
        _keep(self, "station", np.float64, (count,), nan=True)
        _keep(self, "chord", np.float64, (count,), nan=True)
        self._check_parts(count, faces)

    def _check_parts(self, count: int, faces: int) -> None:
        if not self.face_names or not self.charts:
            raise MapperError(
                f"The skin {self.name} has no faces or no charts.", "1 or more of each."
            )
        if faces and not 0 <= int(self.triangles.min()) <= int(self.triangles.max()) < count:
            raise MapperError(
                f"A triangle of {self.name} names a point that is not there.",
                f"Numbers from 0 to {count - 1} are allowed.",
            )
        ends = [0, *(chart.last for chart in self.charts)]
        if [chart.first for chart in self.charts] != ends[:-1] or ends[-1] != faces:
            raise MapperError(
                f"The charts of {self.name} do not share out its {faces} triangles.",
                "Each chart starts where the one before ends.",
            )
        for glue in self.glue:
            inside = all(0 <= n < len(self.charts) for n in (glue.chart_a, glue.chart_b))
            if not inside or not {glue.edge_a, glue.edge_b} <= {"s0", "s1", "t0", "t1"}:
                raise MapperError(f"{glue} joins edges that {self.name} does not have.")
        for stitch in self.stitches:
            inside = all(0 <= n < len(self.charts) for n in (stitch.chart_a, stitch.chart_b))
            named = np.concatenate([stitch.line_a, stitch.line_b])
            if not inside or named.min() < 0 or named.max() >= count:
                raise MapperError(f"A stitch of {self.name} names what is not there.")
