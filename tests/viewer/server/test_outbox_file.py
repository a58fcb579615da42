"""Outboxes saved to a file: read by the page's server and by the command line, each item once."""

from __future__ import annotations

import base64
import csv
import io
import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from mapper.store.errors import DiskRefused
from mapper.store.shop import open_shop
from mapper.viewer.server import outbox
from tests.cli.typed import typed
from tests.viewer.server.conftest import Say, picture
from tests.viewer.server.talk import ANN, BEN, JOB, action, again, entry, new_id, now, undo

WHEN = "2026-05-12T10:15:00+02:00"
Item = dict[str, Any]
# Reads a file; (id, what became of it, words) of each item.
Reader = Callable[[Any], list[tuple[str, str, str]]]


def photo_item(data: bytes, key: str = "photo-1", **more: Any) -> Item:
    text = base64.b64encode(data).decode()
    told = {"type": "photo", "id": key, "by": ANN, "taken": "", "media_type": "image/jpeg"}
    return {**told, "data": text, **more}


def file_of(*items: Any, job: str = JOB) -> dict[str, Any]:
    return {"format": "airframe map outbox 1", "job_id": job, "made": now(), "items": list(items)}


def item(message: Any) -> Item:
    return {"type": "action", "action": message}


def back(of: str, mode: str = "undo", **more: Any) -> Item:
    return {"type": mode, "asked": {**undo(), "of": of, **more}}


def by_page(page: Any) -> Reader:
    def read(file: Any) -> list[tuple[str, str, str]]:
        got = page.post("/api/outbox", json=file)
        assert got.status_code == 200, got.text
        return [(r["id"], r["status"], r["message"]) for r in got.json()["results"]]

    return read


def by_command(shop: Path, folder: Path) -> Reader:
    path = folder / "unsent.json"

    def read(file: Any) -> list[tuple[str, str, str]]:
        path.write_text(json.dumps(file))
        done = typed(f"take-in {path} --csv --shop {shop}")
        rows = list(csv.DictReader(io.StringIO(done.out)))
        assert done.code == any(r["became"] == "refused" for r in rows), done
        again = {"here already": "repeated"}
        return [(r["id"], again.get(r["became"], r["became"]), r["why"]) for r in rows]

    return read


@pytest.fixture(params=["page", "command"])
def read(request: Any, page: Any, shop: Path, tmp_path: Path) -> Reader:
    """Both ways to read a file."""
    return by_page(page) if request.param == "page" else by_command(shop, tmp_path)


def test_every_kind_of_item_is_stored_once_with_who_and_when(read: Reader, shop: Path) -> None:
    use = {"photo_id": "photo-1", "caption": "pit", "mm_per_pixel": None}
    cy = {"id": "person-cy", "name": "Cy", "device_time": WHEN, "clock_offset_ms": 120_000}
    good = action(entry(photos=[use]), by="person-cy", device_time=WHEN, clock_offset_ms=-600_000)
    late, last, gone = action(entry(kind="ghost")), action(entry()), action(entry())
    times = {"device_time": WHEN, "clock_offset_ms": 61_000}
    file = file_of(
        {"type": "person", "person": cy},
        photo_item(picture(), by="person-cy", **times),
        item(good),
        item(late),
        item(last),
        item(gone),
        back(gone["id"], device_time=WHEN, clock_offset_ms=7),
    )
    keys = ["person-cy", "photo-1", *(m["id"] for m in (good, late, last, gone))]
    first = read(file)
    assert [key for key, _, _ in first[:-1]] == keys
    wanted = ["stored", "stored", "stored", "refused", "stored", "stored", "stored"]
    assert [became for _, became, _ in first] == wanted
    assert "There is no kind of entry 'ghost'" in first[3][2]
    second = [became for _, became, _ in read(file)]
    assert second == ["refused" if w == "refused" else "repeated" for w in wanted]
    with open_shop(shop) as store:
        kept = store.book(JOB)
        rows = {row.words: row for row in store.history()}
        assert store.verify().sound
    assert {e.id for e in kept.entries} == {m["steps"][0]["entry"]["id"] for m in (good, last)}
    assert len(kept.photos) == 1
    (mine,) = [e for e in kept.entries if e.by == "person-cy"]
    assert mine.device_time == datetime.fromisoformat(WHEN)
    clocks = {"new person Cy": 120_000, "photo taken in": 61_000, "undo: finding recorded": 7}
    assert {words: rows[words].clock_offset_ms for words in clocks} == clocks
    assert all(rows[w].device_time == datetime.fromisoformat(WHEN) for w in clocks)
    assert [r.clock_offset_ms for r in rows.values() if r.record_id == mine.id] == [-600_000]


def test_what_the_page_sent_and_the_file_holds_is_stored_once(
    page: Any, say: Say, shop: Path, tmp_path: Path
) -> None:
    message = action(entry())
    data = picture()
    say("actions", message)
    path = f"/api/jobs/{JOB}/photos?id=photo-1&by={ANN}&taken=&made={WHEN.replace('+', '%2B')}"
    page.post(path, content=data, headers={"content-type": "image/jpeg"})
    page.post("/api/people", json={"id": "p-3", "name": "Cy", "device_time": WHEN})
    person = {"type": "person", "person": {"id": "p-3", "name": "Cy", "device_time": WHEN}}
    file = file_of(person, photo_item(data, device_time=WHEN), item(message))
    for way in (by_page(page), by_command(shop, tmp_path)):
        assert [became for _, became, _ in way(file)] == ["repeated"] * 3


def test_an_undo_of_a_file_takes_back_what_it_names_and_nothing_else(
    read: Reader, shop: Path
) -> None:
    kept, refused = action(entry()), action(entry(kind="ghost"))
    nameless = {"type": "undo", "asked": undo()}
    found = read(file_of(item(kept), item(refused), back(refused["id"]), nameless))
    assert [became for _, became, _ in found] == ["stored", "refused", "refused", "refused"]
    assert "another action was meant" in found[2][2]
    assert "does not say which action" in found[3][2]
    with open_shop(shop) as store:
        assert len(store.book(JOB).entries) == 1
    turned = file_of(back(kept["id"]), back(kept["id"], "redo"), back(kept["id"], "redo"))
    assert [became for _, became, _ in read(turned)] == ["stored", "stored", "refused"]
    with open_shop(shop) as store:
        assert len(store.book(JOB).entries) == 1


def test_what_is_wrong_with_one_item_keeps_nothing_else_back(read: Reader) -> None:
    bad = {**photo_item(b"", new_id()), "data": "%%%"}
    worse = {**photo_item(b"", new_id()), "data": "\u00fc"}
    message = action(entry())
    stranger = {"type": "recipe", "id": "r-1"}
    nameless = {**action(entry()), "device_time": "yesterday"}
    elsewhere = {**item(action(entry())), "job_id": "none"}
    found = read(file_of(bad, stranger, item(nameless), "words", worse, elsewhere, item(message)))
    assert [became for _, became, _ in found] == ["refused"] * 6 + ["stored"]
    assert "base64" in found[0][2] and "base64" in found[4][2]
    assert found[1][0] == "r-1" and "not as agreed" in found[1][2]
    assert found[2][0] == nameless["id"] and "device_time" in found[2][2]
    assert "not as agreed" in found[3][2]


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"format": "another 1"}, 422, "refused"),
        ({"job_id": "none"}, 404, "unknown"),
        ({"items": {}}, 422, "refused"),
        ({"more": 1}, 422, "refused"),
    ],
)
def test_another_file_is_refused_by_the_server(
    page: Any, change: Any, status: int, code: str
) -> None:
    got = page.post("/api/outbox", json={**file_of(), **change})
    assert (got.status_code, got.json()["code"]) == (status, code)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "no outbox that can be read: it is no JSON"),
        (b"\x89PNG\r\n", "it is no JSON"),
        (b"[" * 100_000, "it is no JSON"),
        (json.dumps(file_of(item(action(entry())))).encode()[:-40], "its end is missing"),
        (json.dumps({**file_of(), "format": "another 1"}).encode(), "no outbox of a device"),
        (json.dumps({**file_of(), "items": 7}).encode(), "no outbox of a device"),
        (b"[1, 2]", "no outbox of a device"),
        (json.dumps(file_of(job="none")).encode(), "is not here"),
    ],
    ids=["empty", "picture", "deep", "cut", "format", "items", "list", "job"],
)
def test_another_file_is_refused_by_the_command_with_a_word(
    shop: Path, tmp_path: Path, content: bytes, words: str
) -> None:
    path = tmp_path / "unsent.json"
    path.write_bytes(content)
    done = typed(f"take-in {path} --shop {shop}")
    assert done.code == 2 and done.out == ""
    assert words in " ".join(done.err.split())


def test_the_command_says_what_became_of_each(shop: Path, tmp_path: Path) -> None:
    path = tmp_path / "unsent.json"
    good = action(entry(), words="dent at rib 3", by=BEN, clock_offset_ms=-600_000)
    bad = action(entry(kind="ghost"), words="ghost seen")
    path.write_text(json.dumps(file_of(item(good), item(bad))))
    done = typed(f"take-in {path} --shop {shop}")
    told = " ".join(done.out.split())
    assert done.code == 1
    assert "dent at rib 3 Ben" in told and "device's clock 10 min behind" in told
    assert "ghost seen (refused): There is no kind of entry 'ghost'" in told
    assert "2 items: 1 stored, 0 here already, 1 refused." in told
    assert "1 here already" in typed(f"take-in {path} --shop {shop}").out
    path.write_text(json.dumps(file_of()))
    done = typed(f"take-in {path} --shop {shop}")
    assert done.code == 0 and "Nothing waits in this file." in done.out
    for missing in (tmp_path, tmp_path / "none.json"):
        done = typed(f"take-in {missing} --shop {shop}")
        assert done.code == 2 and "There is no file" in done.err


def test_a_full_disk_stops_the_reading_and_the_rest_is_read_again(
    page: Any, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = action(entry()), action(entry())
    stored = outbox.act

    def full(live: Any, given: Any, guards: Any) -> Any:
        if given.id == second["id"]:
            raise DiskRefused("The disk is full.")
        return stored(live, given, guards)

    monkeypatch.setattr(outbox, "act", full)
    file = file_of(item(first), item(second))
    got = page.post("/api/outbox", json=file)
    assert (got.status_code, got.json()["code"]) == (503, "busy")
    monkeypatch.undo()
    assert [became for _, became, _ in by_page(page)(file)] == ["repeated", "stored"]


def test_a_photo_alone_is_no_step_to_be_taken_back(page: Any, say: Say) -> None:
    (view,) = say("actions", action(entry(), words="dent recorded"))["changes"]["entries"]
    path = f"/api/jobs/{JOB}/photos?id=photo-1&by={ANN}"
    page.post(path, content=picture(), headers={"content-type": "image/jpeg"})
    assert say("undo", undo())["changes"]["removed"] == [view["id"]]
    (view,) = say("redo", undo())["changes"]["entries"]
    use = {"photo_id": "photo-1", "caption": "", "mm_per_pixel": None}
    (view,) = say("actions", action(again(view, photos=[use]), op="change"))["changes"]["entries"]
    assert view["photos"][0]["href"]
