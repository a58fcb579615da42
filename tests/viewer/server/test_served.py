"""The server as a process: what others record appears, and what was acknowledged is there, however
it ends."""

from __future__ import annotations

import contextlib
import json
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from mapper.store.history import HistoryRow
from mapper.store.shop import open_shop
from mapper.viewer.server.events import MOST_LISTENERS
from tests.viewer.server.serve import Servers
from tests.viewer.server.talk import ANN, BEN, JOB, action, entry, stroke, undo, where

CLIENTS, CHANGES = 5, 50
WRITERS, KILLS, BETWEEN = 5, 20, 6
LONG = 300.0  # seconds: what never comes fails by it, however slow the machine is


@pytest.fixture
def served(shop: Path, tmp_path: Path) -> Iterator[Servers]:
    servers = Servers(shop, XDG_CACHE_HOME=str(tmp_path / "cache"))
    servers.start()
    yield servers
    servers.close()


class Listening(threading.Thread):
    """One page that listens: which entries were told, and every message."""

    def __init__(self, served: Servers, after: int | None = None) -> None:
        super().__init__(daemon=True)
        self.heard: set[str] = set()
        self.messages: list[Any] = []
        self.beats = 0
        self.ready = threading.Event()
        self.ended = threading.Event()
        self._query = "" if after is None else f"?after={after}"
        self._served = served
        self.start()
        assert self.ready.wait(LONG)

    def run(self) -> None:
        address = f"{self._served.address}/api/jobs/{JOB}/events{self._query}"
        try:
            with httpx.stream("GET", address, timeout=LONG) as answer:
                assert answer.headers["content-type"].startswith("text/event-stream")
                for line in answer.iter_lines():
                    self._take(line)
        except httpx.HTTPError:
            pass  # the server ended
        self.ended.set()

    def _take(self, line: str) -> None:
        if line.startswith("retry:"):
            self.ready.set()
        elif line == "event: beat":
            self.beats += 1
        elif line.startswith("data: {"):
            message = json.loads(line.removeprefix("data: "))
            self.messages.append(message)
            for view in message["entries"]:
                self.heard.add(view["id"])

    def wait_for(self, keys: Any) -> None:
        until(
            lambda: set(keys) <= self.heard,
            lambda: f"{len(self.heard)} of {len(set(keys))} were told",
        )


def until(true: Callable[[], object], words: Callable[[], object]) -> None:
    """Come back when it is true; after very long the test fails with these words."""
    give_up = time.monotonic() + LONG
    while not true():
        assert time.monotonic() < give_up, words()
        time.sleep(0.01)


def post(served: Servers, message: Any, path: str = "actions", **more: Any) -> httpx.Response:
    address = f"{served.address}/api/jobs/{JOB}/{path}"
    return httpx.post(address, json=message, headers=served.ours, timeout=LONG, **more)


def test_what_others_record_appears_once_and_in_order(served: Servers, shop: Path) -> None:
    """How soon it appears is measured by the bench."""
    pages = [Listening(served) for _ in range(CLIENTS)]
    said = []
    for number in range(CHANGES):
        one = entry(note=f"change {number}")
        said.append(one["id"])
        assert post(served, action(one)).status_code == 200
    for page in pages:
        page.wait_for(said)
        # Each is told once, in the order of the history.
        assert [view["id"] for m in page.messages for view in m["entries"]] == said
        rows = [m["seq"] for m in page.messages if m["entries"]]
        assert rows == sorted(set(rows))
    # What another program writes shows too.
    with open_shop(shop) as store:
        kept = store.book(JOB).entry(said[0])
        with store.act(BEN, "by hand") as act:
            act.change(type(kept)(**{**kept.__dict__, "note": "by hand"}))
    until(
        lambda: any(v["note"] == "by hand" for m in pages[0].messages for v in m["entries"]),
        lambda: "what another program wrote was not told",
    )


def test_a_page_that_comes_back_is_told_what_it_missed(served: Servers) -> None:
    first, second = entry(), entry()
    seq = post(served, action(first)).json()["changes"]["seq"]
    post(served, action(second))
    page = Listening(served, after=seq)
    page.wait_for([second["id"]])
    assert first["id"] not in page.heard
    whole = Listening(served, after=10**9)
    until(lambda: whole.messages, lambda: "nothing was told")
    assert whole.messages[0]["again"] is True


def test_it_ends_though_pages_listen(served: Servers) -> None:
    page = Listening(served)
    asked = f"GET /api/jobs/{JOB}/events HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n\r\n".encode()
    with contextlib.ExitStack() as open_ones:
        many = [
            open_ones.enter_context(socket.create_connection(("127.0.0.1", served.port), LONG))
            for _ in range(MOST_LISTENERS + 20)
        ]
        for one in many:
            one.sendall(asked)
        # Of those who come at once no more are let in than of those who come one by one.
        told = [one.recv(12) for one in many]
        assert told.count(b"HTTP/1.1 200") == MOST_LISTENERS - 1
        assert told.count(b"HTTP/1.1 503") == 21
        # It comes back when the process is gone; one that waited for pages would wait for ever.
        served.kill(signal.SIGTERM)
        assert page.ended.wait(LONG)


class Writing(threading.Thread):
    """One device: sends each action until it is acknowledged, as an outbox does."""

    def __init__(self, served: Servers, number: int, stop: threading.Event) -> None:
        super().__init__(daemon=True)
        self.acknowledged: list[tuple[str, str]] = []
        self.tries = 0
        self.doubts: list[str] = []
        self._served, self._number, self._over = served, number, stop
        self.start()

    def run(self) -> None:
        made = 0
        while not self._over.is_set():
            made += 1
            drawn = where(stroke((600 + made, 300))) if made % 10 == 1 else None
            said = entry(where=drawn, note=f"{self._number}/{made}")
            message = action(said, by=(ANN, BEN)[self._number % 2])
            if self._sent(message):
                self.acknowledged.append((message["id"], said["id"]))

    def _sent(self, message: Any) -> bool:
        with httpx.Client(headers=self._served.ours, timeout=LONG) as client:
            give_up = time.monotonic() + LONG
            while time.monotonic() < give_up:
                self.tries += 1
                try:
                    address = f"{self._served.address}/api/jobs/{JOB}/actions"
                    got = client.post(address, json=message)
                except httpx.HTTPError:
                    time.sleep(0.02)
                    continue
                if got.status_code == 200:
                    return True
                self.doubts.append(got.text[:300])
                return False
        return False


def test_what_was_acknowledged_is_there_after_twenty_kills(served: Servers, shop: Path) -> None:
    stop = threading.Event()
    writers = [Writing(served, number, stop) for number in range(WRITERS)]

    def done() -> int:
        return sum(len(w.acknowledged) for w in writers)

    for _ in range(KILLS):
        wanted = done() + BETWEEN
        until(lambda wanted=wanted: done() >= wanted, lambda: [w.doubts for w in writers])
        served.kill()
        served.start()
    stop.set()
    for writer in writers:
        writer.join(LONG)
        assert not writer.is_alive() and not writer.doubts, writer.doubts
    acknowledged = [pair for writer in writers for pair in writer.acknowledged]
    with open_shop(shop) as store:
        kept = {e.id: e for e in store.book(JOB).entries}
        rows: dict[str, list[HistoryRow]] = {}
        for row in store.history(JOB, kind="entry"):
            rows.setdefault(row.action_id, []).append(row)
        assert store.verify().sound
    lost = [key for _, key in acknowledged if key not in kept]
    doubled = [one for one, found in rows.items() if len(found) != 1]
    tries = sum(w.tries for w in writers)
    print(
        f"\n{KILLS} kills under {WRITERS} writers: {len(acknowledged)} acknowledged, {len(lost)} "
        f"lost, {len(doubled)} doubled, {tries} sent"
    )
    assert not lost and not doubled
    assert len(kept) == len(acknowledged) == len(rows) >= KILLS * BETWEEN
    assert tries > len(acknowledged)


def test_undo_holds_over_a_restart(served: Servers) -> None:
    one = entry()
    post(served, action(one))
    served.kill()
    served.start()
    answer = post(served, undo(), "undo").json()
    assert answer["changes"]["removed"] == [one["id"]]


def test_one_action_at_once_from_two_tabs_is_stored_once(served: Servers, shop: Path) -> None:
    message = action(entry(where=where(stroke((600, 300), (700, 300)))))
    answers: list[Any] = []
    tabs = [
        threading.Thread(target=lambda: answers.append(post(served, message).json()))
        for _ in range(4)
    ]
    for tab in tabs:
        tab.start()
    for tab in tabs:
        tab.join()
    assert sorted(a["status"] for a in answers) == ["repeated", "repeated", "repeated", "stored"]
    with open_shop(shop) as store:
        assert len(store.history(action_id=message["id"])) == 1
