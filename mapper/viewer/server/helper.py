"""A process of its own for what takes seconds: bytes of shapes, areas of a part at a glance.

The server asks it by lines of JSON and goes on answering people meanwhile. It ends when the server
does, however that ends: its input is closed then.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
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

PATIENCE = 300.0  # seconds for one question
GENTLE = 5  # it takes the processor after whoever waits for an answer


class HelperGone(MapperError):
    """The helper could not be started, or ended while it was asked."""


class Helper:
    """The server's side: starts the process when it is first asked, and again when it ended."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        self._closed = False

    def ask(self, **question: Any) -> dict[str, Any]:
        """The answer to a question. Raises MapperError with the helper's own words, HelperGone."""
        with self._lock:
            if self._closed:
                raise HelperGone("The server is closing.")
            process = self._running()
            timer = threading.Timer(PATIENCE, process.kill)
            timer.start()
            try:
                process.stdin.write(json.dumps(question) + "\n")  # type: ignore[union-attr]
                process.stdin.flush()  # type: ignore[union-attr]
                line = process.stdout.readline()  # type: ignore[union-attr]
                answer: dict[str, Any] = json.loads(line)
            except (OSError, ValueError) as error:
                process.kill()
                raise HelperGone("The helper that works out shapes ended.", "", "Ask again.") from (
                    error
                )
            finally:
                timer.cancel()
        if "refused" in answer:
            raise MapperError(*answer["refused"])
        return answer

    def _running(self) -> subprocess.Popen[str]:
        if self._process is None or self._process.poll() is not None:
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "mapper.viewer.server.helper", str(self._folder)],
                env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[3])},
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
        return self._process

    def close(self) -> None:
        """End the process; further questions are refused."""
        self._closed = True
        if self._process is not None:
            self._process.kill()
            self._process.wait()


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
