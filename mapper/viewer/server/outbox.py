"""An outbox saved to a file: what a device could not send, read in on another day.

The page's server and the command line read it with the same functions. Every item has the id that
the device made, so that a file may be read again, and what was sent meanwhile is not doubled.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import ValidationError

from mapper.errors import MapperError
from mapper.job.records import Person
from mapper.store.action import Answer
from mapper.store.errors import DiskRefused, ShopBusy, ShopDamaged
from mapper.store.history import clock_words
from mapper.store.shop import Store
from mapper.viewer.server.actions import act
from mapper.viewer.server.guards import Guards
from mapper.viewer.server.live import LiveBook
from mapper.viewer.server.models import (
    ActionItem,
    OutboxAnswer,
    OutboxFile,
    OutboxResult,
    PersonGiven,
    PersonItem,
    PhotoItem,
    UndoGiven,
    UndoItem,
    Unreadable,
)
from mapper.viewer.server.photos import Given, take_photo

FORMAT = "airframe map outbox 1"
# Nothing is wrong with the item then: the file is read again later.
_NOT_NOW = (ShopBusy, DiskRefused, ShopDamaged)
_SAVE_AGAIN = "Save it on the device once more, or send from the device itself."


@dataclass(frozen=True)
class Done:
    """What became of one item: stored, repeated (it was here already) or refused; message: why, or
    what a person should know besides. what, by, when: the item in words; clock: how far that of the
    device was off, "" where it was right."""

    id: str
    what: str
    by: str
    when: str
    clock: str
    status: str
    message: str


def parsed(data: bytes) -> OutboxFile:
    """The outbox that the bytes of a file hold; an item that is not as agreed is `Unreadable`.

    Raises MapperError for a file that is none, or whose end is missing.
    """
    try:
        return OutboxFile.model_validate_json(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        if first["type"] == "json_invalid":
            why = "its end is missing" if b"airframe map outbox" in data[:200] else "it is no JSON"
            raise MapperError(
                f"This is no outbox that can be read: {why} ({first['msg'][:200]}).",
                "A file is read as the page wrote it.",
                _SAVE_AGAIN,
            ) from error
        where = ".".join(map(str, first["loc"]))[:120]
        raise MapperError(
            f"This is no outbox of a device ({where or 'the whole'}: {first['msg'][:200]}).",
            f"A file that the page saved begins with its format, {FORMAT!r}.",
            _SAVE_AGAIN,
        ) from error


def take_person(store: Store, guards: Guards, given: PersonGiven) -> Answer | None:
    """Store somebody new who records, None where they are there; Refused for an id of another."""
    known = store.find(Person, given.id)
    if known is not None and known.name == given.name.strip():
        return None
    person = Person(given.id, given.name.strip())
    when = given.device_time if isinstance(given.device_time, datetime) else None
    action = store.act(
        person,
        f"new person {person.name}",
        device_time=when,
        clock_offset_ms=given.clock_offset_ms,
    )
    action.add(person)
    with guards.writing, action:
        pass
    return action.answer


def turn(live: LiveBook, guards: Guards, mode: str, given: UndoGiven) -> Answer:
    """Undo or redo as a device asked for it."""
    with guards.writing:
        answer: Answer = getattr(live.store, mode)(
            given.by,
            live.job_id,
            action_id=given.id,
            device_time=given.device_time,
            clock_offset_ms=given.clock_offset_ms,
            of_action=given.of or None,
        )
    return answer


def read_items(
    store: Store, guards: Guards, live_of: Callable[[str], LiveBook], file: OutboxFile
) -> list[Done]:
    """Store what a file holds, each once, in its order; each is answered for itself.

    live_of: the book of a job. What is refused keeps nothing else back. Raises NoSuchRecord for a
    job of the file that is not here, and what a full disk or a locked shop raises: what was stored
    till then is stored, and the file may be read again.
    """
    if file.job_id:
        live_of(file.job_id)
    return [_read(store, guards, live_of, file, item) for item in file.items]


def _read(
    store: Store,
    guards: Guards,
    live_of: Callable[[str], LiveBook],
    file: OutboxFile,
    item: Any,
) -> Done:
    key, what, by, when = _told(item)
    clock = clock_words(_clock(item))
    try:
        notes, repeated = _stored(store, guards, live_of, file, item)
    except _NOT_NOW:
        raise
    except MapperError as error:
        return Done(key, what, by, when, clock, "refused", error.text())
    status = "repeated" if repeated else "stored"
    return Done(key, what, by, when, clock, status, " ".join(notes))


def _told(item: Any) -> tuple[str, str, str, str]:
    """(id, what it is, who recorded it, device time) of an item, "" for what it does not say."""
    if isinstance(item, Unreadable):
        return item.id, "unreadable", "", ""
    if isinstance(item, ActionItem):
        given = item.action
        return given.id, given.words, given.by, given.device_time.isoformat()
    if isinstance(item, UndoItem):
        return item.asked.id, item.type, item.asked.by, item.asked.device_time.isoformat()
    told = item.person if not isinstance(item, PhotoItem) else item
    when = told.device_time.isoformat() if isinstance(told.device_time, datetime) else ""
    if isinstance(item, PhotoItem):
        return item.id, "photo", item.by, when
    return item.person.id, f"new person {item.person.name}", item.person.id, when


def _clock(item: Any) -> float | None:
    """The offset that an item gives, None for none."""
    if isinstance(item, Unreadable):
        return None
    inner = {ActionItem: "action", UndoItem: "asked", PersonItem: "person"}.get(type(item))
    offset: float | None = (getattr(item, inner) if inner else item).clock_offset_ms
    return offset


def _stored(
    store: Store,
    guards: Guards,
    live_of: Callable[[str], LiveBook],
    file: OutboxFile,
    item: Any,
) -> tuple[list[str], bool]:
    """(notes, whether it was here already) of one item, stored now."""
    if isinstance(item, Unreadable):
        raise MapperError(item.words, "A file is read as the page wrote it.", _SAVE_AGAIN)
    if not isinstance(item, ActionItem | UndoItem | PhotoItem):
        return [], take_person(store, guards, item.person) is None
    job = item.job_id or file.job_id
    if not job:
        raise MapperError("It names no job.", "What is recorded belongs to a job.", _SAVE_AGAIN)
    live = live_of(job)
    live.catch_up()
    if isinstance(item, ActionItem):
        answer = act(live, item.action, guards)
    elif isinstance(item, UndoItem):
        answer = _turned(live, guards, item)
    else:
        taken = item.taken if isinstance(item.taken, datetime) else None
        when = item.device_time if isinstance(item.device_time, datetime) else None
        given = Given(item.id, item.by, _bytes(item), taken, when, item.clock_offset_ms)
        answer = take_photo(live, guards, given).answer
    live.catch_up()
    return list(answer.notes), answer.repeated


def _turned(live: LiveBook, guards: Guards, item: UndoItem) -> Answer:
    # On the device it meant the latest action of that moment; a file is read on another day, when
    # that person may have recorded more elsewhere.
    if not item.asked.of and not live.store.history(action_id=item.asked.id, limit=1):
        raise MapperError(
            f"This {item.type} does not say which action it means.",
            "From a file, only an action that is named is taken back or brought again.",
            f"Look at the history, and {item.type} by hand.",
        )
    return turn(live, guards, item.type, item.asked)


def _bytes(item: PhotoItem) -> bytes:
    try:
        return base64.b64decode(item.data, validate=True)
    except ValueError as error:  # binascii.Error is one; letters outside ASCII give another
        raise MapperError(
            f"The photo {item.id[:40]!r} of the file is not in base64.",
            "A file is read as the page wrote it.",
            "Save the outbox to a file once more.",
        ) from error


def answer_of(done: list[Done]) -> OutboxAnswer:
    """What is told to the page."""
    return OutboxAnswer(
        results=[OutboxResult(id=d.id, status=d.status, message=d.message) for d in done]
    )
