"""Who is let in, how much is taken, and what every answer says to the browser."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from mapper.viewer.server import guard as guards
from mapper.viewer.server.app import make_app
from tests.viewer.server.client import Client
from tests.viewer.server.talk import (
    ADDRESS,
    JOB,
    OURS,
    PORT,
    action,
    entry,
    finished,
    stroke,
    where,
)

ACTIONS = f"/api/jobs/{JOB}/actions"


@pytest.fixture
def built(shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """An empty folder for a built page, and a client of a server that sends what lies there."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    static = tmp_path / "static"
    static.mkdir()
    app = make_app(shop, port=PORT, token=OURS["x-mapper-token"], static=static)
    yield static, Client(app)
    app.state.room.close()


def refused(got: Any, status: int, code: str) -> str:
    """The words of a refusal, which must be of that status and code."""
    assert (got.status_code, got.json()["code"]) == (status, code), got.text[:500]
    return str(got.json()["message"])


@pytest.mark.parametrize(
    "host", ["shop.example", f"127.0.0.1:{PORT + 1}", "127.0.0.1", f"evil.localhost:{PORT}", ""]
)
@pytest.mark.parametrize("path", ["/", "/api/start", "/static/page.js", "/nothing"])
def test_foreign_names_are_not_answered(page: Any, host: str, path: str) -> None:
    refused(page.get(path, headers={"host": host}), 421, "foreign")


@pytest.mark.parametrize("host", [f"localhost:{PORT}", f"[::1]:{PORT}", f"LOCALHOST:{PORT}"])
def test_our_own_names_are(page: Any, host: str) -> None:
    assert page.get("/api/start", headers={"host": host}).status_code == 200
    own = {"host": host, "origin": f"http://{host.lower()}"}
    got = page.post("/api/people", json={"id": "p", "name": "P"}, headers=own)
    assert got.status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": None},
        {"origin": "null"},
        {"origin": "http://shop.example"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {"origin": f"http://localhost:{PORT}"},  # ours, but not the one that was asked
        {"x-mapper-token": None},
        {"x-mapper-token": ""},
        {"x-mapper-token": "token-of-another-run"},
    ],
)
def test_changes_come_from_our_own_page_alone(page: Any, headers: Any) -> None:
    refused(page.post(ACTIONS, json=action(entry()), headers=headers), 403, "foreign")
    assert page.get(f"/api/jobs/{JOB}/book").json()["entries"] == []


def test_another_page_gets_no_data(page: Any) -> None:
    got = page.get("/api/start", headers={"sec-fetch-site": "cross-site"})
    refused(got, 403, "foreign")
    assert page.get("/api/start", headers={"sec-fetch-site": "same-origin"}).status_code == 200


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(page: Any, method: str) -> None:
    refused(page.request(method, "/api/start"), 405, "refused")


@pytest.mark.parametrize("path", ["/", "/api/start", "/nothing", "/api/jobs/none/book"])
def test_every_answer_carries_the_policy(page: Any, path: str) -> None:
    told = page.get(path).headers
    policy = told["content-security-policy"]
    assert "unsafe" not in policy and "default-src 'none'" in policy
    for rule in ("frame-ancestors 'none'", "form-action 'none'", "base-uri 'none'"):
        assert rule in policy
    assert "require-trusted-types-for 'script'" in policy
    # What is neither our own address nor made by the page itself is not there at all.
    words = {w for rule in policy.split(";") for w in rule.split()[1:]}
    assert words <= {"'none'", "'self'", "blob:", "data:", "'script'", "airframe-map"}
    assert told["x-content-type-options"] == "nosniff"
    assert told["referrer-policy"] == "no-referrer"
    assert "camera=(self)" in told["permissions-policy"]
    assert told["cache-control"] in ("no-store", "no-cache")


@pytest.mark.parametrize(
    ("kind", "status"), [("text/plain", 415), ("", 415), ("application/x-www-form-urlencoded", 415)]
)
def test_bodies_that_a_form_could_send_are_refused(page: Any, kind: str, status: int) -> None:
    body = json.dumps(action(entry()))
    refused(page.post(ACTIONS, content=body, headers={"content-type": kind}), status, "refused")


def test_packed_bodies_are_refused(page: Any) -> None:
    headers = {"content-encoding": "gzip", "content-type": "application/json"}
    refused(page.post(ACTIONS, content=b"\x1f\x8b", headers=headers), 415, "refused")


def test_a_body_is_counted_while_it_comes(page: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guards, "BODY_MOST", 2000)
    sent = 0

    async def chunks() -> Any:
        nonlocal sent
        for _ in range(100):
            sent += 1
            yield b" " * 500

    headers = {"content-type": "application/json"}  # and no Content-Length
    refused(page.post(ACTIONS, content=chunks(), headers=headers), 413, "too large")
    assert sent <= 6
    # One that lies about its length, and one that says it.
    refused(page.post(ACTIONS, json=action(entry(note="x" * 3000))), 413, "too large")
    headers["content-length"] = "9" * 30
    refused(page.post(ACTIONS, content=b"{}", headers=headers), 413, "too large")


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"\xff\xfe\x00",
        b"[" * 200_000,
        b'{"id":' + b"[" * 100_000 + b"]" * 100_000 + b"}",
        b'{"id":' + b"1" * 10_000 + b"}",
    ],
    ids=["empty", "cut", "list", "null", "no text", "deep", "deep closed", "long number"],
)
def test_what_is_no_message_is_refused(page: Any, body: bytes) -> None:
    got = page.post(ACTIONS, content=body, headers={"content-type": "application/json"})
    assert got.status_code in (400, 422) and got.json()["code"] == "refused"


def _with(path: str, value: Any) -> dict[str, Any]:
    message = action(entry(where=where(stroke((600, 300), (700, 300)))))
    *way, last = path.split(".")
    at: Any = message
    for name in way:
        at = at[int(name)] if name.isdigit() else at[name]
    at[int(last) if last.isdigit() else last] = value
    return message


ENTRY = "steps.0.entry"
SHAPE = f"{ENTRY}.where.shapes.0"


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (f"{SHAPE}.radius", float("nan")),
        (f"{SHAPE}.radius", float("inf")),
        (f"{SHAPE}.radius", -1),
        (f"{SHAPE}.radius", 0),
        (f"{SHAPE}.radius", 1e-320),
        (f"{SHAPE}.radius", "wide"),
        (f"{SHAPE}.points", [[float("nan"), 0]]),
        (f"{SHAPE}.points", [[1e300, 0]]),
        (f"{SHAPE}.points", [[0, 0, 0]]),
        (f"{SHAPE}.points", []),
        (f"{SHAPE}.points", [[600, 300]] * 20_001),
        (f"{SHAPE}.type", "spray"),
        (f"{SHAPE}.op", "burn"),
        (f"{ENTRY}.where.shapes", []),
        (f"{ENTRY}.where.shapes", [stroke((600, 300))] * 2001),
        (f"{ENTRY}.id", "../../etc/passwd"),
        (f"{ENTRY}.id", "x" * 65),
        (f"{ENTRY}.id", ""),
        (f"{ENTRY}.version", -1),
        (f"{ENTRY}.version", 1.5),
        (f"{ENTRY}.values", {"what": {"deep": 1}}),
        (f"{ENTRY}.deferred_to", "soon"),
        (f"{ENTRY}.more", 1),
        ("device_time", "2026-01-01T10:00:00"),
        ("clock_offset_ms", float("nan")),
        ("units", "cubits"),
        ("words", ""),
        ("steps", []),
        ("steps", [{"op": "add", "entry": entry()}] * 51),
    ],
)
def test_messages_of_another_form_are_refused_and_nothing_is_stored(
    page: Any, path: str, value: Any
) -> None:
    body = json.dumps(_with(path, value))
    got = page.post(ACTIONS, content=body, headers={"content-type": "application/json"})
    words = refused(got, 422, "refused")
    assert "not as agreed" in words and len(words) < 3000
    assert (
        page.get(f"/api/jobs/{JOB}/book").json()["seq"]
        == page.get(f"/api/jobs/{JOB}/changes?after=0").json()["seq"]
    )


def test_the_message_they_are_made_from_is_taken(page: Any) -> None:
    assert page.post(ACTIONS, json=_with("words", "fine")).status_code == 200


@pytest.mark.parametrize(
    "path",
    [
        "/api/shapes/..%2f..%2fshop.sqlite",
        "/api/shapes/" + "0" * 63,
        "/api/shapes/" + "0" * 64,
        "/api/photos/../../../etc/passwd",
        "/api/photos/" + "0" * 64,
        "/api/photos/" + "A" * 64,
        "/static/..%2fserver%2fapp.py",
        "/static/%2e%2e/server/app.py",
        "/static/..%2fsecret.js",
        "/static/.hidden.js",
        "/static/digest.txt",
        "/static/none.js",
        f"/static/{'a' * 3000}.js",
        "/static/a%00b.js",
        "/shop.sqlite",
        "/docs",
    ],
)
def test_tricks_with_paths_lead_nowhere(built: Any, path: str) -> None:
    static, page = built
    for name in ("page.js", "digest.txt", ".hidden.js", "../secret.js"):
        (static / name).write_text("not for everybody")
    got = page.get(path)
    assert got.status_code in (404, 422) and "code" in got.json()


def test_files_of_the_page_are_sent_as_they_lie_there(built: Any) -> None:
    static, page = built
    for name, text in (("index.html", b"<!doctype html>"), ("page-AB12CD34.js", b"let x = 1;")):
        (static / name).write_bytes(text)
    (static / "page-AB12CD34.js.gz").write_bytes(b"packed")
    (static / "sw.js").write_bytes(b"worker")
    got = page.get("/")
    assert (got.text, got.headers["cache-control"]) == ("<!doctype html>", "no-cache")
    assert got.headers["content-type"].startswith("text/html")
    got = page.get("/static/page-AB12CD34.js", headers={"accept-encoding": "br"})
    assert (got.text, "immutable" in got.headers["cache-control"]) == ("let x = 1;", True)
    assert got.headers["content-type"].startswith("text/javascript")
    assert page.get("/sw.js").headers["cache-control"] == "no-cache"
    (static / "digest.txt").write_text("0123456789abcdef0123\n")
    assert page.get("/api/start").json()["build"] == "0123456789abcdef"


def test_without_a_built_page_it_says_how_to_build_it(built: Any) -> None:
    _, page = built
    got = page.get("/")
    assert (got.status_code, "build_page" in got.text) == (503, True)


def test_sockets_are_closed(app: Any) -> None:
    said = []

    async def send(message: Any) -> None:
        said.append(message)

    scope = {"type": "websocket", "path": "/", "headers": [(b"host", ADDRESS[7:].encode())]}
    finished(guards.Guard(app, port=PORT, token=OURS["x-mapper-token"], photo_most=int)(
        scope, None, send  # type: ignore[arg-type]
    ))  # fmt: skip
    assert said == [{"type": "websocket.close", "code": 1008}]
