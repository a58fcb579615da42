"""A skin as a PLY file, so that its shape can be read by any mesh program."""

from __future__ import annotations

import numpy as np

from mapper.surface.skin import Skin


def to_ply(skin: Skin) -> bytes:
    """The skin as binary PLY 1.0: x y z in the part's frame and flat_x flat_y on the flat map (mm,
    doubles) of every point, and triangles as indices."""
    points = np.empty(len(skin.points), dtype=[(n, "<f8") for n in ("x", "y", "z", "u", "v")])
    for column, name in enumerate(("x", "y", "z")):
        points[name] = skin.points[:, column]
    points["u"], points["v"] = skin.flat[:, 0], skin.flat[:, 1]
    faces = np.empty(len(skin.triangles), dtype=[("n", "|u1"), ("of", "<i4", (3,))])
    faces["n"], faces["of"] = 3, skin.triangles
    # A comment is one line of plain letters, whatever the skin is called.
    name = skin.name.encode("ascii", "replace").decode().replace("\n", " ")
    head = [
        "ply",
        "format binary_little_endian 1.0",
        f"comment {name}, mm",
        f"element vertex {len(points)}",
        *(f"property double {n}" for n in ("x", "y", "z", "flat_x", "flat_y")),
        f"element face {len(faces)}",
        "property list uchar int vertex_indices",
        "end_header",
    ]
    return "\n".join(head).encode() + b"\n" + points.tobytes() + faces.tobytes()
