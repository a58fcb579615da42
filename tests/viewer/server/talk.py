"""What a page says to the server, for tests: one line a message, as `page/src/wire.ts` has them."""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from typing import Any, TypeVar

PORT, TOKEN = 8460, "token-of-the-tests"
ADDRESS = f"http://127.0.0.1:{PORT}"
OURS = {"origin": ADDRESS, "x-mapper-token": TOKEN}
ANN, BEN = "person-ann", "person-ben"
JOB = "job-1"
RIGHT, LEFT, COVER, BARE = "part-right", "part-left", "part-cover", "part-bare"


R = TypeVar("R")


def finished(work: Coroutine[Any, Any, R]) -> R:
    """What a coroutine gives, run in a thread of its own: the browser's driver, where tests of the
    page went before, keeps a loop in this one."""
    with ThreadPoolExecutor(1) as alone:
        return alone.submit(asyncio.run, work).result()


def new_id() -> str:
    """An id as the page makes them."""
    return str(uuid.uuid4())


def now() -> str:
    """A device's time, with its offset."""
    return datetime.now(UTC).isoformat()


def stroke(*points: tuple[float, float], radius: float = 12.0, op: str = "add") -> dict[str, Any]:
    """A brush stroke through flat points."""
    return {"op": op, "type": "stroke", "points": points, "radius": radius}


def box(stations: Any = None, chord: Any = None, side: str = "upper", **more: Any) -> Any:
    """A box by stations and % chord."""
    return {
        "op": "add", "type": "box", "stations": stations, "chord": chord, "angles": None,
        "side": side, **more,
    }  # fmt: skip


def where(*shapes: Any, skin: str = "skin", face: str = "outer") -> dict[str, Any]:
    """What was drawn on one face."""
    return {"skin": skin, "face": face, "shapes": list(shapes)}


def entry(**said: Any) -> dict[str, Any]:
    """A new finding on the right wing, at a place in words where nothing else is said."""
    usual = {
        "id": new_id(), "part_id": RIGHT, "kind": "finding", "version": 0, "where": None,
        "place": "", "values": {"what": "dent"}, "state": "open", "deferred_to": None, "note": "",
        "photos": [],
    }  # fmt: skip
    made = {**usual, **said}
    if made["where"] is None and not made["place"]:
        made["place"] = "near rib 3"
    return made


def action(*entries: Any, op: str = "add", **said: Any) -> dict[str, Any]:
    """One action of Ann's: each entry added, or changed, or removed."""
    usual = {
        "id": new_id(), "by": ANN, "words": "finding recorded", "device_time": now(),
        "clock_offset_ms": 12, "units": "metric",
        "steps": [{"op": op, "entry": one} for one in entries],
    }  # fmt: skip
    return {**usual, **said}


def again(view: Any, **said: Any) -> dict[str, Any]:
    """A stored entry as a change of it begins."""
    same = {
        "id": view["id"], "part_id": view["part_id"], "kind": view["kind"],
        "version": view["version"], "where": None, "place": view["place"], "values": {},
        "state": view["state"], "deferred_to": view["deferred_to"], "note": view["note"],
        "photos": [],
    }  # fmt: skip
    return {**same, **said}


def undo(by: str = ANN) -> dict[str, Any]:
    """An undo or redo."""
    return {"id": new_id(), "by": by, "device_time": now()}
