"""The server of one shop: addresses and what stands behind them. Logic is in the other files.

uvicorn.run(make_app(folder, port=8460), host="127.0.0.1", port=8460,
            timeout_graceful_shutdown=3)
"""

from __future__ import annotations

import asyncio
import contextlib
import gzip
import secrets
import threading
import time
from collections.abc import AsyncIterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from fastapi import FastAPI, Request
from fastapi import Path as InPath
from fastapi.responses import Response, StreamingResponse
from pydantic import AwareDatetime
from starlette.concurrency import run_in_threadpool

from mapper.drawing.style import STYLE_FILE
from mapper.errors import MapperError
from mapper.job import telling
from mapper.job.records import Person
from mapper.late import Late
from mapper.store.action import Answer as StoreAnswer
from mapper.store.errors import NoSuchRecord
from mapper.store.photos import rules_of
from mapper.store.shop import Clock, local_now
from mapper.viewer.server import actions, models, outbox, pages, photos, refusals
from mapper.viewer.server.actions import Drawing
from mapper.viewer.server.drawn import Id
from mapper.viewer.server.events import MOST_LISTENERS, Message, stream
from mapper.viewer.server.fields import fields_of
from mapper.viewer.server.guard import BODY_MOST, Guard
from mapper.viewer.server.jsons import joined, text
from mapper.viewer.server.live import LiveBook
from mapper.viewer.server.refusals import Unknown
from mapper.viewer.server.room import BEGIN, Room
from mapper.viewer.server.views import job_view, outline_view, person_view

if TYPE_CHECKING:
    from mapper.surface import warm
else:
    # It brings in what only imported meshes need: not before anything is answered.
    warm = Late("mapper.surface.warm")

PHOTOS_AT_ONCE = 2  # each may take 1.5 GB and 30 s; actions do not wait for them
PACK_FROM = 1500  # bytes: less is not worth packing
Digest = Annotated[str, InPath(pattern="^[0-9a-f]{64}$")]
JobId = Annotated[str, InPath(max_length=64)]
REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": models.Refusal} for status in (403, 404, 409, 413, 415, 421, 422, 503)
}


def make_app(
    folder: Path,
    *,
    port: int,
    clock: Clock = local_now,
    token: str | None = None,
    static: Path = pages.STATIC,
) -> FastAPI:
    """The application that serves the shop in a folder, to this machine alone.

    port: the one it is reached by, which is part of the names it answers to. token: what changes
    must carry (None: a new one). static: the built page. Raises StoreError where there is no sound
    shop.
    """
    room = Room(folder, clock=clock)

    @contextlib.asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        threading.Thread(target=_ready, args=(room,), name="ready", daemon=True).start()
        yield
        room.feed.close()
        room.close()

    app = FastAPI(
        title="Airframe mapper",
        version="1",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
        responses=REFUSALS,
    )
    app.state.room = room
    app.state.token = token or secrets.token_urlsafe(32)
    refusals.install(app)
    _page(app, static)
    _reading(app, room, static)
    _writing(app, room)
    app.add_middleware(
        Guard,
        port=port,
        token=app.state.token,
        photo_most=lambda: rules_of(room.store.shop().settings).byte_limit,
    )
    return app


def _ready(room: Room) -> None:
    """What the first stroke would wait for, done while the page loads."""
    with contextlib.suppress(MapperError):
        room.helper.wake()
        for job in room.store.jobs():
            room.book_text(room.live(job.id))
    time.sleep(BEGIN / 2)
    warm.warm()


def _live(room: Room, job: str) -> LiveBook:
    try:
        return room.live(job)
    except NoSuchRecord as error:
        raise Unknown(error.given, error.allowed, error.to_do) from error


def _json(request: Request, data: bytes, **headers: str) -> Response:
    """JSON, packed where it is long and the browser takes that."""
    headers["vary"] = "accept-encoding"
    if len(data) >= PACK_FROM and pages.takes_gzip(request):
        headers["content-encoding"] = "gzip"
        data = gzip.compress(data, 4, mtime=0)
    return Response(data, media_type="application/json", headers=headers)


def _page(app: FastAPI, static: Path) -> None:
    @app.get("/", include_in_schema=False)
    def page(request: Request) -> Response:
        return pages.first_page(request, static)

    @app.get("/sw.js", include_in_schema=False)
    def worker(request: Request) -> Response:
        return pages.page_file("sw.js", request, static)

    @app.get("/static/{name}", include_in_schema=False)
    def file(name: str, request: Request) -> Response:
        return pages.page_file(name, request, static)


def _reading(app: FastAPI, room: Room, static: Path) -> None:
    @app.get("/api/start", response_model=models.Start)
    def start() -> models.Start:
        shop = room.store.shop()
        return models.Start(
            shop=models.ShopView(id=shop.id, name=shop.name, units=shop.units),
            people=[person_view(p) for p in room.store.people()],
            jobs=[job_view(j) for j in room.store.jobs()],
            token=app.state.token,
            server_time=room.clock().isoformat(),
            build=pages.build_of(static),
            photo_bytes_most=rules_of(shop.settings).byte_limit,
            body_bytes_most=BODY_MOST,
        )

    @app.get("/api/fields", response_model=models.Fields)
    def fields(request: Request) -> Response:
        return _json(request, fields_of(room.store.shop()).model_dump_json().encode())

    @app.get("/api/style")
    def style(request: Request) -> Response:
        return _json(request, STYLE_FILE.read_bytes())

    @app.get("/api/jobs/{job}/book", response_model=models.BookView)
    def book(job: JobId, request: Request) -> Response:
        live = _live(room, job)
        live.catch_up()
        return _json(request, room.book_text(live))

    @app.get("/api/jobs/{job}/changes", response_model=models.Changes)
    def changes(job: JobId, after: int, request: Request) -> Response:
        live = _live(room, job)
        live.catch_up()
        with live.lock:
            return _json(request, room.changes_text(live, live.since(after)))

    @app.get(
        "/api/jobs/{job}/events",
        response_class=StreamingResponse,
        responses={200: {"content": {"text/event-stream": {"schema": {"type": "string"}}}}},
    )
    async def events(job: JobId, request: Request, after: int | None = None) -> Response:
        live = await _in_thread(_live, room, job)
        # Counted and let in without a pause between: those who come at once would all pass.
        if len(room.feed) >= MOST_LISTENERS:
            return refusals.answer(503, "busy", f"{MOST_LISTENERS} pages listen already.")
        listener = room.feed.listen(job, room.catch_up)
        try:
            first, seq = await _in_thread(_missed, room, live, after)
        except BaseException:
            room.feed.leave(listener)
            raise
        return StreamingResponse(
            stream(room.feed, listener, seq, first),
            media_type="text/event-stream",
            headers={"x-accel-buffering": "no"},
        )

    @app.get(
        "/api/shapes/{digest}",
        response_class=Response,
        responses={200: {"content": {"application/octet-stream": {}}}},
    )
    def shape(
        digest: Digest, request: Request, units: Literal["metric", "inch"] | None = None
    ) -> Response:
        try:
            packed = room.shape(digest, units or room.store.shop().units)
        except NoSuchRecord as error:
            raise Unknown(error.given) from error
        headers = {"cache-control": pages.IMMUTABLE, "vary": "accept-encoding"}
        if pages.takes_gzip(request):
            headers["content-encoding"] = "gzip"
        else:
            packed = gzip.decompress(packed)
        return Response(packed, media_type="application/octet-stream", headers=headers)

    @app.get(
        "/api/photos/{digest}",
        response_class=Response,
        responses={200: {"content": {"image/*": {}}}},
    )
    def photo(digest: Digest) -> Response:
        try:
            kind = room.photo_type(digest)
        except NoSuchRecord as error:
            raise Unknown(error.given) from error
        return Response(
            room.store.photo(digest),
            media_type=kind,
            headers={"cache-control": pages.IMMUTABLE},
        )


async def _in_thread(function: Any, *given: Any) -> Any:
    return await run_in_threadpool(function, *given)


def _missed(room: Room, live: LiveBook, after: int | None) -> tuple[Message | None, int]:
    """What happened after row `after`, to be told first, and the row told up to."""
    with live.lock:
        live.catch_up()
        if after is None or after == live.seq:
            return None, live.seq
        moved = live.since(after)
        return Message(moved.seq, room.changes_text(live, moved)), moved.seq


def _writing(app: FastAPI, room: Room) -> None:
    looking = asyncio.Semaphore(PHOTOS_AT_ONCE)

    @app.post("/api/people", response_model=models.PersonView)
    def people(given: models.PersonGiven) -> models.PersonView:
        outbox.take_person(room.store, room.guards, given)
        return person_view(room.store.get(Person, given.id))

    @app.post("/api/jobs/{job}/actions", response_model=models.Answer)
    def act(job: JobId, given: models.ActionGiven, request: Request) -> Response:
        live = _live(room, job)
        live.catch_up()
        answer = actions.act(live, given, room.guards)
        live.catch_up()
        return _answered(room, live, request, answer, actions.notes_of(live, given, answer))

    @app.post("/api/jobs/{job}/undo", response_model=models.Answer)
    def undo(job: JobId, given: models.UndoGiven, request: Request) -> Response:
        return _back("undo", job, given, request)

    @app.post("/api/jobs/{job}/redo", response_model=models.Answer)
    def redo(job: JobId, given: models.UndoGiven, request: Request) -> Response:
        return _back("redo", job, given, request)

    def _back(mode: str, job: str, given: models.UndoGiven, request: Request) -> Response:
        live = _live(room, job)
        answer = outbox.turn(live, room.guards, mode, given)
        notes = [row.words.removeprefix(f"{mode}: ") for row in answer.rows[:1]]
        return _answered(room, live, request, answer, notes)

    @app.post(
        "/api/jobs/{job}/photos",
        response_model=models.PhotoAnswer,
        openapi_extra={"requestBody": {"required": True, "content": {"image/*": {}}}},
    )
    async def photo(
        job: JobId,
        request: Request,
        id: Id,
        by: Id,
        taken: AwareDatetime | Literal[""] = "",
        made: AwareDatetime | Literal[""] = "",
        clock_offset_ms: models.ClockOffset = None,
    ) -> models.PhotoAnswer:
        data = await request.body()
        shot, when = (t if isinstance(t, datetime) else None for t in (taken, made))
        given = photos.Given(id, by, data, shot, when, clock_offset_ms)
        live = await _in_thread(_live, room, job)
        async with looking:
            got = await _in_thread(photos.take_photo, live, room.guards, given)
        return models.PhotoAnswer(
            photo_id=got.photo.id,
            href=photos.href(got.photo),
            width=got.photo.width,
            height=got.photo.height,
            notes=list(got.answer.notes),
        )

    @app.post("/api/jobs/{job}/measure", response_model=models.MeasureAnswer)
    def measure(job: JobId, given: models.MeasureGiven) -> models.MeasureAnswer:
        live = _live(room, job)
        live.catch_up()
        with live.lock:
            drawing = Drawing(live.book, dict(live.entries), live.units, room.guards)
        return _measured(drawing, given)

    @app.post("/api/outbox", response_model=models.OutboxAnswer)
    def read_outbox(given: models.OutboxFile) -> models.OutboxAnswer:
        done = outbox.read_items(room.store, room.guards, lambda job: _live(room, job), given)
        return outbox.answer_of(done)


def _answered(
    room: Room, live: LiveBook, request: Request, answer: StoreAnswer, notes: list[str]
) -> Response:
    live.catch_up()
    status = "repeated" if answer.repeated else "stored"
    with live.lock:
        data = joined(
            action_id=text(answer.action_id),
            status=text(status),
            changes=room.changes_text(live, live.of_rows(answer.rows)).decode(),
            notes=text(notes),
        )
    return _json(request, data)


def _measured(drawing: Drawing, given: models.MeasureGiven) -> models.MeasureAnswer:
    outline = drawing.outline(given.part_id, given.where)
    digest = drawing.book.part(given.part_id).geometry
    geometry = drawing.book.geometries[digest]
    with drawing.guards.of(digest):
        near = telling.near(geometry, outline, drawing.units)
        words = telling.drawn(outline, drawing.units, geometry)
    return models.MeasureAnswer(
        outline=outline_view(outline, digest, geometry, drawing.units, drawing.guards),
        where=words,
        near=near,
    )
