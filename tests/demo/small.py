"""A small part of the invented restoration, built as the whole is: `python -m tests.demo.small
FOLDER` prints the hash of its history."""

from __future__ import annotations

import sys
from pathlib import Path
from unittest import mock

from demo import build
from demo.airframe import PARTS_MADE
from demo.story.story import ROWS
from mapper.store.shop import open_shop

# Of every sort that is quickly made, both hands, and with a photo.
CODES = frozenset(
    (
        *("FU-11", "FU-13", "FU-51", "EN-51", "FN-01", "LW-10"),
        *("RW-04", "RW-08", "RW-09", "RW-10", "RW-11", "RW-13", "RW-14"),
    )
)


def build_small(folder: Path) -> str:
    """Build it in a folder; the hash of its history."""
    parts = tuple(made for made in PARTS_MADE if made.code in CODES)
    rows = tuple(row for row in ROWS if row.part in CODES)
    with mock.patch.multiple(build, PARTS_MADE=parts, ROWS=rows):
        build.build_shop(folder)
    with open_shop(folder) as store:
        return store.head()


if __name__ == "__main__":
    print(build_small(Path(sys.argv[1])))
