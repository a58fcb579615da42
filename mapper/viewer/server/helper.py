"""A process of its own for what takes seconds (`working.py`): bytes of shapes, areas of a part.

The server asks it by lines of JSON and goes on answering people meanwhile. It ends when the server
does, however that ends: its input is closed then.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

from mapper.errors import MapperError

PATIENCE = 300.0  # seconds for one question


class HelperGone(MapperError):
    """The helper could not be started, or ended while it was asked."""


class LatestFirst:
    """A lock that goes to whoever asked for it last.

    The picture of the whole aircraft asks for every shape; who opens a part meanwhile waits for the
    one that is being made, and not for all the others.
    """

    def __init__(self) -> None:
        self._change = threading.Condition()
        self._held = False
        self.waiting: list[object] = []

    def __enter__(self) -> None:
        me = object()
        with self._change:
            self.waiting.append(me)
            while self._held or self.waiting[-1] is not me:
                self._change.wait()
            self.waiting.pop()
            self._held = True

    def __exit__(self, *error: object) -> None:
        with self._change:
            self._held = False
            self._change.notify_all()


class Helper:
    """The server's side: starts the process when it is first asked, and again when it ended."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = LatestFirst()
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

    def wake(self) -> None:
        """Start the process, so that it has loaded the program when it is first asked."""
        with self._lock:
            if not self._closed:
                self._running()

    def _running(self) -> subprocess.Popen[str]:
        if self._process is None or self._process.poll() is not None:
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "mapper.viewer.server.working", str(self._folder)],
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
