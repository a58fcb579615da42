"""Photos on their way in: the store has each looked at by a limited process of its own."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from mapper.job.records import Photo
from mapper.store.action import Answer
from mapper.viewer.server.guards import Guards
from mapper.viewer.server.live import LiveBook

WORDS = "photo taken in"


@dataclass(frozen=True)
class TakenIn:
    """A stored photo, and how: repeated where it was there already."""

    photo: Photo
    answer: Answer


def action_id(photo_id: str) -> str:
    """The action that stores a photo: the same at every repetition."""
    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"photo/{photo_id}"))


@dataclass(frozen=True)
class Given:
    """A picture file and what the device says of it: id, who, when it was taken and recorded, and
    how far the device's clock was off."""

    id: str
    by: str
    data: bytes
    taken: datetime | None = None
    device_time: datetime | None = None
    clock_offset_ms: float | None = None


def take_photo(live: LiveBook, guards: Guards, given: Given) -> TakenIn:
    """Store a picture file under its id; the same again is answered as before.

    Location and what else the shop does not keep are taken out (`mapper.store.photos`). Raises
    PhotoRefused for what is no sound picture, RepeatedAction for an id used for another one.
    """
    action = live.store.act(
        given.by,
        WORDS,
        action_id(given.id),
        device_time=given.device_time,
        clock_offset_ms=given.clock_offset_ms,
    )
    photo = action.add_photo(live.job_id, given.data, photo_id=given.id, taken=given.taken)
    with guards.writing, action:
        pass
    live.catch_up()
    return TakenIn(photo, action.answer)


def href(photo: Photo) -> str:
    """The address of a stored photo."""
    return f"/api/photos/{photo.digest}"
