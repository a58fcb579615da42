"""A process that adds entries to a shop and says of each, once it is stored, that it is.

usage: python -m tests.store.worker FOLDER PREFIX COUNT [PRAGMA]   (PRAGMA: synchronous level)
"""

from __future__ import annotations

import os
import sys

from mapper.store import engine
from mapper.store.shop import open_shop
from tests.store.makers import ANN, entry


def main(folder: str, prefix: str, count: int, level: str) -> None:
    """Add `count` entries, one an action; each acknowledged by a line on stdout."""
    if level != engine.SYNCHRONOUS:
        # What must never happen: a connection that does not wait for the disk.
        engine.SYNCHRONOUS = level
        engine.check_promises = lambda driver, foreign_keys=True: None
    with open_shop(folder) as store:
        os.write(1, b"ready\n")
        for number in range(count):
            with store.act(ANN, "add", f"{prefix}-{number}") as action:
                action.add(entry(f"{prefix}-{number}"))
            os.write(1, f"stored {prefix}-{number}\n".encode())


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]), sys.argv[4] if len(sys.argv) > 4 else "FULL")
