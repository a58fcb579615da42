"""Photos on their way in: the store has each looked at by a limited process of its own."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime

from mapper.job.records import Photo
from mapper.store.action import Answer
from mapper.viewer.server.live import LiveBook
from mapper.viewer.server.room import Room

WORDS = "photo taken in"


@dataclass(frozen=True)
class TakenIn:
    """A stored photo, and how: repeated where it was there already."""

    photo: Photo
    answer: Answer


def action_id(photo_id: str) -> str:
    """The action that stores a photo: the same at every repetition."""
    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"photo/{photo_id}"))


def take_photo(
    room: Room, live: LiveBook, photo_id: str, by: str, taken: datetime | None, data: bytes
) -> TakenIn:
    """Store a picture file under an id; the same again is answered as before.

    Location and what else the shop does not keep are taken out (`mapper.store.photos`). Raises
    PhotoRefused for what is no sound picture, RepeatedAction for an id used for another one.
    """
    action = room.store.act(by, WORDS, action_id(photo_id))
    photo = action.add_photo(live.job_id, data, photo_id=photo_id, taken=taken)
    with room.guards.writing, action:
        pass
    live.catch_up()
    return TakenIn(photo, action.answer)


def href(photo: Photo) -> str:
    """The address of a stored photo."""
    return f"/api/photos/{photo.digest}"
