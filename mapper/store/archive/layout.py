"""What lies in an archive, under which names, and how large it may be.

archive.json            what this is, and the SHA-256 and size of every other file
README.txt              how to read it without the program
schema.json             JSON Schema (2020-12) of job.json
job.json                every record; regions as well-known text (WKT)
history.jsonl           every change, one JSON object a line, each with the hash of the row
                        before it
geometry/DIGEST.bin     a geometry version, to the last bit
geometry/DIGEST-1.ply   its skins as meshes: x y z and flat_x flat_y of every point, in mm
tables/*.csv            entries and areas as tables
photos/DIGEST.jpg       photos as stored (also .png, .webp)
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from mapper.job.entry import Entry
from mapper.job.records import (
    Assembly,
    FinishSystem,
    Item,
    Lot,
    Part,
    Person,
    Photo,
    Position,
)

FORMAT = "open archive of a restoration job"
NUMBER = 1
MANIFEST, README, SCHEMA, JOB, HISTORY = (
    "archive.json",
    "README.txt",
    "schema.json",
    "job.json",
    "history.jsonl",
)
SECTIONS: dict[str, type] = {
    "people": Person,
    "lots": Lot,
    "assemblies": Assembly,
    "parts": Part,
    "positions": Position,
    "items": Item,
    "finish_systems": FinishSystem,
    "photos": Photo,
    "entries": Entry,
}
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
GEOMETRY_NAME = re.compile(r"geometry/([0-9a-f]{64})\.bin")
PHOTO_NAME = re.compile(r"photos/([0-9a-f]{64})\.(jpg|png|webp)")
NAME = re.compile(
    rf"{re.escape(MANIFEST)}|README\.txt|schema\.json|job\.json|history\.jsonl"
    rf"|{GEOMETRY_NAME.pattern}|geometry/[0-9a-f]{{64}}-[0-9]{{1,4}}\.ply"
    rf"|tables/[a-z][a-z0-9 -]{{0,40}}\.csv|{PHOTO_NAME.pattern}"
)


@dataclass(frozen=True)
class Limits:
    """What an archive from outside may ask for; all bytes are counted unpacked.

    files: how many; one: bytes of one file; text: bytes of one that is parsed whole (JSON); all:
    bytes together; ratio: unpacked by packed, of files over a megabyte.
    """

    files: int = 100_000
    one: int = 400_000_000
    text: int = 400_000_000
    all: int = 20_000_000_000
    ratio: float = 200.0


def photo_name(digest: str, media_type: str) -> str:
    """The name of a photo in an archive."""
    return f"photos/{digest}.{ENDINGS[media_type]}"


def geometry_name(digest: str) -> str:
    """The name of a geometry version in an archive."""
    return f"geometry/{digest}.bin"


HOW_TO_READ = """This is everything recorded in one restoration job, readable without the program
that wrote it.

job.json        Every record, in JSON; schema.json (JSON Schema, draft 2020-12) describes it.
                Lengths are millimetres, areas mm2, film thicknesses micrometres, times ISO 8601.
                A measured value is [value, half-width of its 95 % interval, or null].
                Regions are well-known text (WKT, OGC 06-103r4) in the flat plane of one skin.
history.jsonl   Every change, oldest first. "hash" is the SHA-256 of the JSON text
                {"after":A,"before":B,"row":R}, where A and B are the texts in "after" and "before"
                (or null) and R is the other columns but "hash", keys sorted, without blanks, UTF-8.
                "previous" is the hash of the row before it in the shop.
geometry/       NAME.bin is a geometry version: a line that names the format; 8 bytes, the length of
                a JSON header, little-endian; the header; then raw little-endian arrays, each padded
                to 8 bytes. NAME-1.ply and so on are its skins in their order (PLY 1.0): the
                properties x y z are in the part's frame, flat_x flat_y on the flat map, all mm.
tables/         The same as tables, CSV in UTF-8; a ' before = + - @ keeps a spreadsheet from
                calculating.
photos/         Pictures under the SHA-256 of their bytes.
archive.json    The SHA-256 and the size of each of these files.

A state says what is left to do, never that anything is serviceable. Acceptance of corrosion, pits
or blends is a licensed person's decision.
"""
