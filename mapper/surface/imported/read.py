"""A mesh file from outside as points and triangles in millimetres.

It is parsed in a process of its own with limited memory and time: a small file can ask for
gigabytes, and a parser that dies must not take the program along. Files carry no unit, or a wrong
one, so it is asked for, and can be checked against a length that somebody measured.
"""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

FORMATS = ("stl", "ply", "obj", "glb")
UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
MOST_BYTES = 500_000_000
MOST_TRIANGLES = 2_000_000
MEMORY = 6_000_000_000
SECONDS = 120
AGREES = 0.05  # a known length may differ by this share from the file's before the unit is doubted


@dataclass(frozen=True, eq=False)
class RawMesh:
    """As parsed: points (N, 3) mm in the file's frame, triangles (M, 3) into them; nothing welded.

    name: the file's name. unit: the word it was read in.
    """

    name: str
    unit: str
    points: Array
    triangles: Ints


def read_mesh(path: Path | str, unit: str, *, most: int = MOST_TRIANGLES) -> RawMesh:
    """The mesh in an STL, PLY, OBJ or GLB file, its numbers in `unit`: mm, cm, m, in or ft.

    Several bodies come as one. MapperError for another unit or kind of file, a file that is too
    large, damaged, or holds no triangles, and one whose parsing asks for more than a mesh may.
    """
    path = Path(path)
    if unit not in UNITS:
        raise MapperError(
            f"The unit of {path.name} is {unit!r}.",
            f"Allowed are {', '.join(UNITS)}.",
            "A mesh file does not say its unit: ask whoever made it, or measure a length.",
        )
    kind = path.suffix.lower().lstrip(".")
    if kind not in FORMATS:
        raise MapperError(
            f"{path.name} is a file of the kind {kind or 'without an ending'!r}.",
            f"Allowed are {', '.join(FORMATS)}, and no archives.",
            "Save the mesh in one of these.",
        )
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise _refused(path.name, f"it has {size:,} bytes, and may have {MOST_BYTES:,}")
        data = path.read_bytes()
    except OSError as error:
        raise MapperError(
            f"The mesh file {path} cannot be read ({error.strerror}).", "", "Check its name."
        ) from error
    _count_first(path.name, kind, data, most)
    points, triangles = _parsed(path.name, kind, data, most)
    return RawMesh(path.name, unit, points * UNITS[unit], triangles)


def check_length(raw: RawMesh, one: Sequence[float], other: Sequence[float], length: float) -> str:
    """Compare a measured length (mm) with the distance of two points of the file (mm, its frame).

    Gives words for the record. MapperError where they differ by more than 5 %, naming the unit that
    would fit, if one does.
    """
    found = float(np.linalg.norm(np.subtract(other, one)))
    if not np.isfinite(found) or found <= 0.0 or not length > 0.0:
        raise MapperError(
            f"The known length is {length:g} mm between points {found:g} mm apart.",
            "Two different points and a length above 0.",
        )
    share = found / length
    if abs(share - 1.0) <= AGREES:
        return (
            f"A known length of {length:g} mm is {found:.6g} mm in the file ({share - 1.0:+.2%})."
        )
    own = UNITS[raw.unit]
    fits = [u for u, size in UNITS.items() if abs(share * size / own - 1.0) <= AGREES]
    raise MapperError(
        f"A known length of {length:g} mm is {found:.6g} mm in {raw.name} read in {raw.unit}.",
        f"They may differ by {AGREES:.0%}.",
        f"Read in {fits[0]} it would fit." if fits else "No unit fits: check the two points.",
    )


def _refused(name: str, why: str) -> MapperError:
    return MapperError(
        f"The mesh file {name} was refused: {why}.",
        f"Allowed are {', '.join(f.upper() for f in FORMATS)} files with triangles.",
        "Export it again, or make it smaller.",
    )


def _count_first(name: str, kind: str, data: bytes, most: int) -> None:
    """What the file says of its own size is looked at before anything is made of it."""
    if kind == "stl" and len(data) >= 84 and data[:5].lower() != b"solid":
        (count,) = struct.unpack_from("<I", data, 80)
        if count > most:
            raise _refused(name, f"it tells of {count:,} triangles, and may hold {most:,}")
        if len(data) != 84 + 50 * count:
            raise _refused(
                name, f"it tells of {count:,} triangles, {84 + 50 * count:,} bytes, and has "
                f"{len(data):,}: cut short, or no STL file"
            )  # fmt: skip
    if kind == "ply":
        head, end, _ = data[:20_000].partition(b"end_header")
        if not data.startswith(b"ply") or not end:
            raise _refused(name, "it does not begin as a PLY file does")
        for line in head.decode("ascii", "replace").splitlines():
            words = line.split()
            told = words[2] if words[:1] == ["element"] and len(words) == 3 else "0"
            # A triangle has three corners at most, so more points than that serve nothing.
            if told.isdigit() and int(told) > 3 * most:
                raise _refused(name, f"it tells of {int(told):,} of {words[1][:20]}")


def _parsed(name: str, kind: str, data: bytes, most: int) -> tuple[Array, Ints]:
    root = str(Path(__file__).parents[3])
    try:
        done = subprocess.run(
            # -P: nothing that lies in the folder somebody works in is taken for a library.
            [
                sys.executable,
                "-P",
                "-c",
                f"import sys; sys.path.insert(0, {root!r});"
                "from mapper.surface.imported.worker import main; main()",
                kind,
                str(most),
                str(MEMORY),
                str(SECONDS),
            ],
            input=data,
            capture_output=True,
            timeout=SECONDS + 10,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise _refused(name, f"it could not be read within {SECONDS} seconds") from None
    head, _, arrays = done.stdout.partition(b"\n")
    if done.returncode != 0 or not head:
        raise _refused(name, "reading it took more memory or time than a mesh may")
    told = json.loads(head)
    if "refused" in told:
        raise _refused(name, told["refused"])
    split = 24 * told["points"]
    points = np.frombuffer(arrays, "<f8", count=3 * told["points"]).reshape(-1, 3)
    triangles = np.frombuffer(arrays[split:], "<i4").reshape(-1, 3)
    return points.astype(np.float64), triangles.astype(np.int32)
