"""The row and keys of a part whose shape is a triangle mesh from a file, such as a scan."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mapper.job.partfile.onekey import Key, Shape

UNITS = ("mm", "cm", "m", "in", "ft")
_LANDMARK = (
    Key("name", "text", "what it is, in words", True),
    Key("in_mesh", "numbers", "its x, y, z in the mesh file, in the mesh's own unit", True),
    Key("on_part", "space point", "where it belongs: aft, outboard, up in the part's frame", True),
)
_KEYS = (
    Key("mesh_file", "text", "STL, PLY, OBJ or GLB file beside the part file", True),
    Key(
        "mesh_unit",
        "choice",
        "unit of its numbers: a mesh file does not say it, or says it wrong",
        True,
        choices=UNITS,
    ),
    Key("known_length", "length", "a length measured on the part, to check the unit", above=0.0),
    Key("known_from", "numbers", "x, y, z of one end of it in the mesh file"),
    Key("known_to", "numbers", "x, y, z of the other end"),
    Key(
        "station_axis",
        "choice",
        "the direction stations run along: aft (x), outboard (y) or up (z)",
        choices=("x", "y", "z"),
        default="y",
    ),
    Key(
        "crease",
        "number",
        "degrees: an edge that bends more parts two pieces of the flat map",
        least=2.0,
        most=90.0,
        default="18",
    ),
    Key("landmark", "tables", "a point with a name, to bring the mesh to its place", of=_LANDMARK),
)

MESHES: Mapping[str, Shape] = MappingProxyType(
    {
        "mesh": Shape(
            "a part by a triangle mesh: a scan, or a shape from another program",
            "Areas are those of the mesh's triangles, one area for both faces; what the scan did "
            "not reach is not counted.",
            keys=_KEYS,
        )
    }
)
