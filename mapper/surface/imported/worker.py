"""The process that parses one mesh file: limits on itself first, then the parser.

argv: format, most triangles, bytes of memory, seconds. stdin: the file. stdout: one line of JSON
(points, triangles: how many; or refused, in words), then the points as little-endian doubles and
the triangles as little-endian 32-bit numbers.
"""

from __future__ import annotations

import io
import json
import sys
from typing import Any

import numpy as np
import trimesh

from mapper.bounded import bound


def parse(data: bytes, kind: str, most: int) -> tuple[dict[str, Any], bytes]:
    """What is to be told about a file, and its arrays as bytes."""
    try:
        # process=False: nothing is merged or dropped behind our back; materials are never loaded.
        scene = trimesh.load_scene(
            io.BytesIO(data), file_type=kind, process=False, skip_materials=True
        )
        meshes = [m for m in scene.dump() if isinstance(m, trimesh.Trimesh)]
    except MemoryError:
        return {"refused": "it needs more memory than a mesh may"}, b""
    # Parsers meet a damaged file with nearly every kind of error there is; all of them mean that.
    except BaseException as error:
        return {"refused": f"it is no sound {kind.upper()} file ({str(error)[:120]})"}, b""
    points = [np.asarray(m.vertices, dtype="<f8") for m in meshes]
    faces = [np.asarray(m.faces, dtype=np.int64) for m in meshes]
    count = sum(map(len, faces))
    if count == 0:
        return {"refused": "it holds no triangles (cut short, or another kind of file)"}, b""
    if count > most:
        return {"refused": f"it holds {count:,} triangles, and may hold {most:,}"}, b""
    starts = np.cumsum([0, *map(len, points)])
    corners = np.concatenate([f + start for f, start in zip(faces, starts)])
    places = np.concatenate(points)
    if not np.isfinite(places[np.unique(corners)]).all():
        return {"refused": "it has corners that are not numbers"}, b""
    if corners.min() < 0 or corners.max() >= len(places):
        return {"refused": "a triangle names a corner that is not there"}, b""
    told = {"points": len(places), "triangles": count}
    return told, places.tobytes() + corners.astype("<i4").tobytes()


def main() -> None:
    """Parse what comes on stdin and answer on stdout."""
    kind, most, memory, seconds = sys.argv[1], *map(int, sys.argv[2:5])
    data = sys.stdin.buffer.read()
    bound(memory, seconds)
    told, arrays = parse(data, kind, most)
    sys.stdout.buffer.write(json.dumps(told).encode() + b"\n" + arrays)


if __name__ == "__main__":
    main()
