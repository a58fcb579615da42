"""Hard times: a full disk, a locked shop, a mistake of ours, somebody who is gone; what the device
keeps then, and sends again, is stored once."""

from __future__ import annotations

import asyncio
import socket
import sqlite3
import threading
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import event

from mapper.store.errors import PhotoRefused
from mapper.store.shop import open_shop
from mapper.viewer.server import actions, photos
from mapper.viewer.server import events as feeds
from mapper.viewer.server.app import PHOTOS_AT_ONCE
from mapper.viewer.server.events import Feed, Listener, Message, stream
from mapper.viewer.server.guard import HEADERS
from mapper.viewer.server.helper import Helper, HelperGone
from tests.viewer.server.conftest import Say
from tests.viewer.server.talk import (
    ADDRESS,
    ANN,
    BARE,
    BEN,
    JOB,
    OURS,
    RIGHT,
    action,
    box,
    entry,
    finished,
    stroke,
    where,
)


def test_a_full_disk_is_busy_and_nothing_is_lost(app: Any, say: Say, shop: Path) -> None:
    say("actions", action(entry(note="before")))
    engine = app.state.room.store.engine
    full = True

    def limit(driver: Any, record: Any, proxy: Any) -> None:
        # As many pages as there are, and not one more: what a full disk is to SQLite.
        (pages,) = driver.execute("PRAGMA page_count").fetchone()
        driver.execute(f"PRAGMA max_page_count = {pages if full else 10**9}")

    event.listen(engine, "checkout", limit)
    large = action(entry(note="x" * 19_000), entry(note="y" * 19_000), entry(note="z" * 19_000))
    refusal = say("actions", large, 503)
    assert refusal["code"] == "busy"
    assert "is full" in refusal["message"] and "Nothing of this action" in refusal["message"]
    full = False
    assert say("actions", large)["status"] == "stored"
    with open_shop(shop) as store:
        assert len(store.book(JOB).entries) == 4
        assert store.verify().sound


def test_a_locked_shop_is_busy(app: Any, say: Say, shop: Path) -> None:
    message = action(entry())
    event.listen(
        app.state.room.store.engine,
        "checkout",
        lambda driver, record, proxy: driver.execute("PRAGMA busy_timeout = 50"),
    )
    other = sqlite3.connect(shop / "shop.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    refusal = say("actions", message, 503)
    assert refusal["code"] == "busy" and "Another program is writing" in refusal["message"]
    other.execute("ROLLBACK")
    other.close()
    assert say("actions", message)["status"] == "stored"


def test_a_mistake_of_ours_is_busy_and_tells_nothing_inside(
    page: Any, say: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*given: Any) -> Any:
        raise ZeroDivisionError("the inside of it")

    message = action(entry())
    monkeypatch.setattr(actions, "new_entry", broken)
    refusal = say("actions", message, 500)
    assert refusal["code"] == "busy" and "inside" not in refusal["message"]
    told = page.post(f"/api/jobs/{JOB}/actions", json=message).headers.multi_items()
    ours = [(name.decode(), value.decode()) for name, value in HEADERS]
    assert {*ours, ("cache-control", "no-store")} <= set(told)
    monkeypatch.undo()
    assert say("actions", message)["status"] == "stored"


def test_no_request_leaves_the_machine(
    page: Any, say: Say, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []
    connect = socket.socket.connect

    def noted(self: Any, address: Any) -> Any:
        asked.append(address)
        return connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", noted)
    monkeypatch.setattr(socket, "getaddrinfo", lambda *given, **more: asked.append(given) or [])
    for path in ("/", "/api/start", "/api/fields", f"/api/jobs/{JOB}/book", "/api/openapi.json"):
        page.get(path)
    say("actions", action(entry(where=where(stroke((600, 300))))))
    say("measure", {"part_id": RIGHT, "where": where(box((1400, 1500)))})
    assert asked == []


def test_media_that_a_sheet_is_out_for_are_kept_with_their_caution(say: Say, shop: Path) -> None:
    blast = entry(
        kind="blasting round",
        values={"media": "sand"},
        where=where({"op": "add", "type": "panel", "name": "nose skin"}),
    )
    (note,) = say("actions", action(blast))["notes"]
    first, *rules, last = note.split("\n")
    assert first.startswith("CAUTION, sand on nose skin (2024-T3, 1 mm)")
    assert any("sand is for steel" in rule.casefold() for rule in rules), rules
    assert "ask the inspector" in last
    with open_shop(shop) as store:
        assert store.book(JOB).entry(blast["id"]).values["media"] == "sand"
    assert say("actions", action(entry()))["notes"] == []


def test_a_part_without_a_shape_takes_places_in_words(say: Say) -> None:
    (view,) = say("actions", action(entry(part_id=BARE, place="grip")))["changes"]["entries"]
    assert (view["outline"], view["where"], view["place"]) == (None, "grip", "grip")


def test_what_a_value_refers_to_is_found_by_id_and_by_name(say: Say) -> None:
    first = entry(kind="inspected area", values={"inspector": BEN}, where=where(stroke((600, 300))))
    second = {**first, "id": "by-name", "values": {"inspector": "Ben"}}
    views = say("actions", action(first, second))["changes"]["entries"]
    assert {v["told"]["inspector"] for v in views} == {"Ben"}
    assert {v["typed"]["inspector"] for v in views} == {BEN}
    nobody = {**first, "id": "by-none", "values": {"inspector": "Nobody"}}
    refusal = say("actions", action(nobody), 422)
    assert "There is no person 'Nobody'" in refusal["message"] and "Ann" in refusal["message"]


def test_actions_do_not_wait_for_photos(app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    looked: list[int] = []
    going = threading.Event()

    def slow(*given: Any) -> Any:
        looked.append(1)
        going.wait(300)
        raise PhotoRefused("It was held up.")

    monkeypatch.setattr(photos, "take_photo", slow)

    async def run() -> list[int]:
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url=ADDRESS, headers=OURS) as way:
            path = f"/api/jobs/{JOB}/photos?by={ANN}&id="
            kind = {"content-type": "image/jpeg"}
            sent = [
                asyncio.create_task(way.post(f"{path}p{n}", content=b"x", headers=kind))
                for n in range(60)
            ]
            while len(looked) < PHOTOS_AT_ONCE:
                await asyncio.sleep(0.01)
            stored = await way.post(f"/api/jobs/{JOB}/actions", json=action(entry()))
            found = [stored.status_code, len(looked)]
            going.set()
            return found + [answer.status_code for answer in await asyncio.gather(*sent)]

    assert finished(asyncio.wait_for(run(), 300)) == [200, PHOTOS_AT_ONCE, *[422] * 60]


# -- those who listen


def test_one_who_reads_nothing_is_let_go_and_asks_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(feeds, "MOST_WAITING", 3)

    async def run() -> list[bytes]:
        feed = Feed()
        listener = Listener(JOB, asyncio.get_running_loop(), asyncio.Queue(3))
        for number in range(1, 6):
            listener.put(Message(number, b"{}"))
        return [line async for line in stream(feed, listener, 0, None)]

    lines = finished(asyncio.wait_for(run(), 300))
    # What is left after the flood is the end of the stream, and what came last is not told.
    assert lines[0].startswith(b"retry") and len(lines) <= 2


def test_a_message_told_before_is_not_told_again() -> None:
    async def run() -> list[bytes]:
        listener = Listener(JOB, asyncio.get_running_loop())
        for message in (Message(4, b"{}"), Message(5, b"{}"), Message(5, b"{}", extra=True)):
            listener.put(message)
        listener.queue.put_nowait(None)
        return [line async for line in stream(Feed(), listener, 3, Message(4, b"{}"))]

    lines = finished(run())[1:]
    assert [int(line.split(b"\n")[0][4:]) for line in lines] == [4, 5, 5]


def test_it_says_that_the_way_is_still_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(feeds, "BEAT", 0.01)

    async def run() -> bytes:
        lines = stream(Feed(), Listener(JOB, asyncio.get_running_loop()), 0, None)
        await anext(lines)
        return await anext(lines)

    assert finished(run()) == b"event: beat\ndata: \n\n"


def test_more_listeners_than_it_bears_are_asked_to_wait(
    page: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mapper.viewer.server.app.MOST_LISTENERS", 0)
    got = page.get(f"/api/jobs/{JOB}/events")
    assert (got.status_code, got.json()["code"]) == (503, "busy")


# -- the helper


def test_a_helper_that_was_killed_is_started_again(app: Any) -> None:
    helper = Helper(app.state.room.folder)
    try:
        digest = app.state.room.store.book(JOB).part(RIGHT).geometry
        first = helper.ask(ask="facts", digest=digest)
        helper._process.kill()
        helper._process.wait()
        assert helper.ask(ask="facts", digest=digest) == first
        with pytest.raises(Exception, match="There is no geometry version"):
            helper.ask(ask="facts", digest="0" * 64)
    finally:
        helper.close()
    with pytest.raises(HelperGone):
        helper.ask(ask="facts", digest=digest)
    assert helper._process.returncode is not None


def test_the_helper_ends_with_the_server(app: Any) -> None:
    helper = Helper(app.state.room.folder)
    process = helper._running()
    process.stdin.close()
    assert process.wait(300) == 0
