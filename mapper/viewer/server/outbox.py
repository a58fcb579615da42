"""An outbox saved to a file: what a device could not send, read in on another day."""

from __future__ import annotations

import base64
import binascii
from datetime import datetime

from mapper.errors import MapperError
from mapper.viewer.server.actions import act
from mapper.viewer.server.models import (
    ActionItem,
    OutboxAnswer,
    OutboxFile,
    OutboxResult,
    PhotoItem,
)
from mapper.viewer.server.photos import take_photo
from mapper.viewer.server.room import Room


def read_outbox(room: Room, file: OutboxFile) -> OutboxAnswer:
    """Store what a file holds, each once, in its order; each is answered for itself.

    What is refused keeps nothing else back. Raises NoSuchRecord for a job that is not here.
    """
    live = room.live(file.job_id)
    results = []
    for item in file.items:
        live.catch_up()
        key = item.action.id if isinstance(item, ActionItem) else item.id
        try:
            if isinstance(item, PhotoItem):
                taken = item.taken if isinstance(item.taken, datetime) else None
                done = take_photo(room, live, item.id, item.by, taken, _bytes(room, item)).answer
            else:
                done = act(live, item.action, room.guards)
        except MapperError as error:
            results.append(OutboxResult(id=key, status="refused", message=error.text()))
            continue
        status = "repeated" if done.repeated else "stored"
        results.append(OutboxResult(id=key, status=status, message=" ".join(done.notes)))
    live.catch_up()
    return OutboxAnswer(results=results)


def _bytes(room: Room, item: PhotoItem) -> bytes:
    try:
        return base64.b64decode(item.data, validate=True)
    except binascii.Error as error:
        raise MapperError(
            f"The photo {item.id[:40]!r} of the file is not in base64.",
            "A file is read as the page wrote it.",
            "Save the outbox to a file once more.",
        ) from error
