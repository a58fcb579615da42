"""A helper process: every task once, none lost when it dies, nothing left when it is stopped."""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from mapper.report import ahead
from mapper.report.ahead import Ahead
from mapper.report.build import report
from mapper.report.cache import Cache, key_of
from tests.report.books import WHEN, shaped

Told = list[tuple[int, int]]


@pytest.fixture(params=["with a helper", "alone"])
def helped(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether a helper can be split off here, or must not be."""
    if request.param == "alone":
        monkeypatch.setattr(ahead, "can_split", lambda: False)
    return ahead.can_split()


LONG = 300.0  # seconds: what never comes fails by it, however slow the machine is


def note(folder: Path, helped: bool, number: int) -> None:
    begun = folder / "the helper has begun"
    if multiprocessing.parent_process() is not None:
        begun.touch()
    elif helped:
        until(begun.exists)  # else this process may have done everything before the helper is there
    with (folder / str(number)).open("a", encoding="utf-8") as file:
        file.write(f"{os.getpid()} ")


def until(true: Callable[[], bool]) -> None:
    give_up = time.monotonic() + LONG
    while not true():
        assert time.monotonic() < give_up, "it did not become true"
        time.sleep(0.01)


def test_each_task_is_done_once_and_told(helped: bool, tmp_path: Path) -> None:
    told: Told = []
    tasks = [partial(note, tmp_path, helped, i) for i in range(12)]
    with Ahead(tasks, lambda done, total: told.append((done, total))) as work:
        work.finish()
    by = [(tmp_path / str(i)).read_text("utf-8").split() for i in range(12)]
    assert all(len(one) == 1 for one in by)
    assert len({one[0] for one in by}) == (2 if helped else 1)
    assert told[0] == (0, 12) and told[-1] == (12, 12)
    assert told == sorted(told)


def test_no_tasks(helped: bool) -> None:
    told: Told = []
    with Ahead([], lambda done, total: told.append((done, total))) as work:
        work.finish()
    assert told[-1] == (0, 0)


def test_a_mistake_here_passes_through(helped: bool) -> None:
    def wrong() -> None:
        raise ValueError("wrong")

    with pytest.raises(ValueError, match="wrong"), Ahead([wrong] * 40, lambda *_: None) as work:
        while True:
            work.finish()
            wrong()  # the helper took them all, and was silent about it


def die() -> None:
    if multiprocessing.parent_process() is not None:
        os._exit(9)


def test_a_helper_that_dies_holds_nothing_up(helped: bool) -> None:
    with Ahead([die] * 6, lambda *_: None) as work:
        work.finish()


def slow(cache: Cache, out: Path) -> None:
    def make(path: Path) -> None:
        path.write_text("half", "utf-8")
        out.touch()
        until(lambda: False)  # whoever waits for it instead of ending it waits long

    if multiprocessing.parent_process() is not None:
        cache.file(key_of("slow"), ".txt", make)


def test_a_stop_ends_the_helper_and_leaves_no_half_file(tmp_path: Path) -> None:
    if not ahead.can_split():
        return  # one process leaves nothing by what test_cache holds
    cache, begun = Cache(tmp_path / "cache"), tmp_path / "begun"
    with pytest.raises(KeyboardInterrupt), Ahead([partial(slow, cache, begun)] * 2, lambda *_: 0):
        until(begun.exists)
        raise KeyboardInterrupt
    assert list(cache.folder.iterdir()) == []
    assert multiprocessing.active_children() == []


def test_a_report_with_a_helper_is_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps: list[tuple[str, int, int]] = []
    both = report(
        shaped(), tmp_path / "both", pictures=False, now=WHEN, progress=lambda *s: steps.append(s)
    )
    monkeypatch.setattr(ahead, "can_split", lambda: False)
    alone = report(shaped(), tmp_path / "alone", pictures=False, now=WHEN)
    assert both.html.read_bytes() == alone.html.read_bytes()
    assert both.pdf.read_bytes() == alone.pdf.read_bytes()
    for stage in ("measuring", "pages"):
        counts = [(done, total) for name, done, total in steps if name == stage]
        assert counts == sorted(counts)
        assert counts[-1][0] == counts[-1][1] > 0
