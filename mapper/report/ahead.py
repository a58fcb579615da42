"""Two processors at work on a report nothing of which is there yet.

A helper process, split off from this one, works through tasks that each leave what they make in the
cache, while this process renders pictures or takes tasks itself. What a task has left is found by
whoever needs it; what it has not (the helper died, the task failed) is made then, and a mistake is
told there. So nothing depends on the helper but the time.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from types import FrameType

Task = Callable[[], object]
Told = Callable[[int, int], None]
LOOK = 0.1  # seconds between two looks at what the helper has done
PATIENCE = 5.0  # seconds for a helper to tidy up when it is told to stop


def can_split() -> bool:
    """Whether a helper can be split off: on Linux, with a second processor, from the first thread
    (another thread may hold what the helper would wait for)."""
    return (
        sys.platform.startswith("linux")
        and len(os.sched_getaffinity(0)) > 1
        and threading.current_thread() is threading.main_thread()
    )


class Ahead:
    """Tasks that a helper begins on at once. told(done, total) is called when this process looks.

    Leaving it, by an error or Ctrl-C too, ends the helper; a file it was writing is taken away.
    """

    def __init__(self, tasks: Sequence[Task], told: Told) -> None:
        self._tasks = tuple(tasks)
        self._told = told
        self._next = 0
        self._split = can_split() and len(self._tasks) > 1
        if self._split:
            context = multiprocessing.get_context("fork")
            self._taken = context.Value("i", 0)
            self._done = context.Array("b", len(self._tasks), lock=False)
            self._helper = context.Process(target=self._help, daemon=True)

    def __enter__(self) -> Ahead:
        self.look()
        if self._split:
            self._helper.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._split and self._helper.is_alive():
            self._helper.terminate()
            self._helper.join(PATIENCE)
            if self._helper.is_alive():
                self._helper.kill()
                self._helper.join()

    def look(self) -> None:
        """Tells how far it is."""
        done = sum(self._done) if self._split else self._next
        self._told(done, len(self._tasks))

    def finish(self) -> None:
        """Takes tasks as well until all are done; what a task raises passes through."""
        while (number := self._take()) is not None:
            self._tasks[number]()
            if self._split:
                self._done[number] = 1
            self.look()
        if self._split:
            while self._helper.is_alive():
                self._helper.join(LOOK)
                self.look()
        self._told(len(self._tasks), len(self._tasks))

    def _take(self) -> int | None:
        if not self._split:
            self._next += 1
            return self._next - 1 if self._next <= len(self._tasks) else None
        with self._taken.get_lock():
            number = self._taken.value
            self._taken.value += 1
        return number if number < len(self._tasks) else None

    def _help(self) -> None:
        """What the helper does. Nothing it meets is shown: who needs the result meets it again."""
        signal.signal(signal.SIGTERM, _stop)
        with contextlib.suppress(BaseException):
            while (number := self._take()) is not None:
                with contextlib.suppress(Exception):
                    self._tasks[number]()
                self._done[number] = 1


def _stop(number: int, frame: FrameType | None) -> None:
    raise SystemExit(0)
