"""What the helper works out, as a process: `python -m mapper.viewer.server.working FOLDER`."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

from mapper.errors import MapperError
from mapper.estimate.ledger import ledger
from mapper.job.outlines import sheet_area
from mapper.store.shop import Store, open_shop
from mapper.surface.geometry import Geometry
from mapper.viewer.server.live import LiveBook
from mapper.viewer.server.mirror import mirror_key
from mapper.viewer.server.shapes import shape_bytes

GENTLE = 5  # it takes the processor after whoever waits for an answer


class Answers:
    """The helper's side: one shop, its books kept up to date as the server's are."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._books: dict[str, LiveBook] = {}

    def answer(self, question: dict[str, Any]) -> dict[str, Any]:
        """What was asked for."""
        if question["ask"] == "shape":
            geometry = self._store.geometry(question["digest"])
            data = shape_bytes(geometry, question["units"])
            target = Path(question["out"])
            passing = target.with_name(f"{target.name}.{os.getpid()}")
            passing.write_bytes(data)
            passing.replace(target)
            return {"size": len(data)}
        if question["ask"] == "facts":
            return facts_of(self._store.geometry(question["digest"]))
        return self._glance(question["job"], question["part"])

    def _glance(self, job_id: str, part_id: str) -> dict[str, float]:
        live = self._books.get(job_id)
        if live is None:
            live = self._books[job_id] = LiveBook(self._store, job_id)
        live.catch_up()
        table = ledger(replace(live.book, entries=live.entries_of(part_id)), part_id)
        return {
            "faces_mm2": float(table["area_mm2"].sum()),
            "stripped_mm2": float(table["stripped_mm2"].sum()),
            "inspected_mm2": float(table["inspected_mm2"].sum()),
        }


def facts_of(geometry: Geometry) -> dict[str, Any]:
    """What follows from a shape alone: area of its first faces, tolerance, sort, which hand."""
    return {
        "area_mm2": sum(sheet_area(geometry, skin.name) for skin in geometry.skins),
        "tolerance_percent": geometry.tolerance.percent,
        "shape": geometry.shape,
        "mirrored": geometry.mirrored,
        "mirror_key": mirror_key(geometry),
    }


def main() -> None:
    """Answer the questions on standard input until it is closed."""
    with contextlib.suppress(OSError):
        os.nice(GENTLE)
    # Ctrl-C at a terminal is for the server, which closes this one's input then.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # A server that was killed reads no answer: nothing more is to be done.
    with contextlib.suppress(BrokenPipeError), open_shop(Path(sys.argv[1])) as store:
        answers = Answers(store)
        for line in sys.stdin:
            try:
                answer = answers.answer(json.loads(line))
            except MapperError as error:
                answer = {"refused": [error.given, error.allowed, error.to_do]}
            except Exception as error:  # whatever it is, the next question may go well
                answer = {"refused": [f"It could not be worked out: {error!r}.", "", ""]}
            sys.stdout.write(json.dumps(answer) + "\n")
            sys.stdout.flush()
    # What could not be written is not tried once more at the end.
    os._exit(0)


if __name__ == "__main__":
    main()
