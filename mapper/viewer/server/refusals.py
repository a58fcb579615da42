"""Every error of the program as a refusal with its whole text, and the status that goes with it."""

from __future__ import annotations

import logging
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from mapper.errors import MapperError
from mapper.job.entry import Entry
from mapper.store.errors import (
    DiskRefused,
    Refused,
    ShopBusy,
    ShopDamaged,
    StaleRecord,
    UndoRefused,
)
from mapper.viewer.server.actions import Gone, Stale
from mapper.viewer.server.guard import HEADERS
from mapper.viewer.server.helper import HelperGone
from mapper.viewer.server.jsons import joined, text
from mapper.viewer.server.pages import NoSuchFile

LOG = logging.getLogger(__name__)
TOLD = 6  # mistakes of one body that are named


class Unknown(MapperError):
    """An address with an id or digest that is not here."""


def answer(status: int, code: str, message: str, theirs: str | None = None) -> Response:
    """A refusal; theirs: the stored entry as JSON, "null" where it is gone."""
    pieces = {"code": text(code), "message": text(message)}
    if theirs is not None:
        pieces["theirs"] = theirs
    return Response(joined(**pieces), status, media_type="application/json")


def of_error(request: Request, error: MapperError) -> Response:
    """The refusal that stands for an error of the program."""
    if isinstance(error, Unknown | NoSuchFile):
        return answer(404, "unknown", error.text())
    if isinstance(error, ShopBusy | DiskRefused | ShopDamaged | HelperGone):
        return answer(503, "busy", error.text())
    if isinstance(error, Gone):
        return answer(409, "stale", error.text(), "null")
    if isinstance(error, Stale):
        return answer(409, "stale", error.text(), _stored(request, error.entry_id))
    collided = isinstance(error, StaleRecord) or (
        isinstance(error, UndoRefused) and (error.mine or error.stored) is not None
    )
    if collided and isinstance(error, Refused):
        return answer(409, "stale", error.text(), _theirs(request, error.stored))
    return answer(422, "refused", error.text())


def _theirs(request: Request, stored: Any) -> str:
    return (isinstance(stored, Entry) and _stored(request, stored.id)) or "null"


def _stored(request: Request, entry_id: str) -> str | None:
    """An entry of the job that was asked about as it stands now, None where there is none."""
    room = request.app.state.room
    live = room.live(request.path_params["job"])
    live.catch_up()
    with live.lock:
        now = live.entries.get(entry_id)
        return None if now is None else str(room.entry_text(live, now))


def words_of(error: RequestValidationError) -> str:
    """What is wrong with a body or an address, in one line."""
    found = []
    for one in error.errors()[:TOLD]:
        where = ".".join(str(x) for x in one["loc"] if x not in ("body", "query", "path"))
        found.append(f"{where[:120] or 'the whole'}: {one['msg'][:200]}")
    more = len(error.errors()) - len(found)
    rest = f", and {more} more" if more > 0 else ""
    return f"What was sent is not as agreed ({'; '.join(found)}{rest}). Nothing was stored."


def install(app: FastAPI) -> None:
    """Have every error answered as a refusal."""

    @app.exception_handler(MapperError)
    def mapper_error(request: Request, error: MapperError) -> Response:
        return of_error(request, error)

    @app.exception_handler(RequestValidationError)
    def wrong(request: Request, error: RequestValidationError) -> Response:
        return answer(422, "refused", words_of(error))

    @app.exception_handler(HTTPException)
    def http(request: Request, error: HTTPException) -> Response:
        if error.status_code == 404:
            return answer(404, "unknown", "There is nothing at this address.")
        told = "What was sent cannot be read" if error.status_code == 400 else str(error.detail)
        return answer(error.status_code, "refused", f"{told}. Nothing was stored.")

    @app.exception_handler(Exception)
    def other(request: Request, error: Exception) -> Response:
        # A mistake of ours: what was sent is kept on the device and comes again.
        LOG.exception("answering %s", request.url.path)
        told = answer(500, "busy", "The server made a mistake of its own. Try again.")
        # Made outside the guard, which dresses every other answer.
        told.raw_headers += [*HEADERS, (b"cache-control", b"no-store")]
        return told
