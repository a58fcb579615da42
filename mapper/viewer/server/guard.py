"""What stands before every request: who may ask, how much may be sent, what a page may do.

Only this machine's own browser, on the page's own address, changes anything: the Host is ours (so
that no foreign name can be made to lead here), and what changes something carries our Origin and
the token that only our page was given. Bodies are counted as they come in.
"""

from __future__ import annotations

import contextlib
import hmac
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any

from mapper.viewer.server.models import Refusal

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]

BODY_MOST = 8_000_000
OUTBOX_MOST = 400_000_000
TOKEN = b"x-mapper-token"
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "font-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types airframe-map",
    )
)
HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"permissions-policy", b"camera=(self), microphone=(), geolocation=(), payment=(), usb=()"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
)
_SAFE = ("GET", "HEAD")


class TooLarge(Exception):
    """A body grew beyond its limit while it was read."""


def hosts_of(port: int) -> frozenset[str]:
    """The names this machine's browser may call us by."""
    return frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))


class Guard:
    """ASGI middleware. photo_most(): bytes a photo may have."""

    def __init__(self, app: Any, *, port: int, token: str, photo_most: Callable[[], int]) -> None:
        self.app = app
        self._hosts = hosts_of(port)
        self._token = token.encode()
        self._photo_most = photo_most

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on with a counted body and our headers on the answer."""
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refused = self._refused(scope)
        if refused is not None:
            await refuse(_dressed(send), *refused)
            return
        body = _Counted(receive, self._limit(scope))
        dressed = _dressed(send)

        async def answer(message: MutableMapping[str, Any]) -> None:
            # Whatever the application makes of a body that broke off, the reason is ours to say.
            if not body.over:
                await dressed(message)

        with contextlib.suppress(TooLarge):
            await self.app(scope, body, answer)
        if body.over:
            await refuse(dressed, *_large(body.limit))

    def _refused(self, scope: Scope) -> tuple[int, Refusal] | None:
        headers = list(scope["headers"])
        host = _one(headers, b"host").lower()
        if host not in self._hosts:
            return 421, _foreign(
                f"The address {host[:80]!r} was asked for.",
                f"This server answers to {', '.join(sorted(self._hosts))}.",
            )
        method = scope["method"]
        if method in _SAFE:
            foreign = _one(headers, b"sec-fetch-site") in ("cross-site", "same-site")
            if foreign and scope["path"].startswith("/api/"):
                return 403, _foreign("Another page asked for this.", "Our own page may.")
            return None
        if method != "POST":
            return 405, _no(f"The method {method[:20]!r} was given.", "GET and POST are allowed.")
        if _one(headers, b"origin").lower() != f"{scope.get('scheme', 'http')}://{host}":
            return 403, _foreign(
                f"A page from {_one(headers, b'origin')[:80] or 'nowhere'!r} asked for a change.",
                "Our own page may.",
            )
        if not hmac.compare_digest(_one(headers, TOKEN).encode(), self._token):
            return 403, _foreign(
                "The request's token is missing or of an earlier run of the server.",
                "The page gets one from /api/start.",
                "Load the page again.",
            )
        return self._wrong_body(scope, headers)

    def _wrong_body(
        self, scope: Scope, headers: list[tuple[bytes, bytes]]
    ) -> tuple[int, Refusal] | None:
        length = _one(headers, b"content-length")
        limit = self._limit(scope)
        if length and (not length.isdecimal() or len(length) > 15 or int(length) > limit):
            return _large(limit)
        kind = _one(headers, b"content-type").split(";")[0].strip().lower()
        photo = scope["path"].endswith("/photos")
        if not photo and kind != "application/json":
            return 415, _no(
                f"A body of type {kind[:80]!r} was sent.", "application/json is allowed."
            )
        if photo and not (kind.startswith("image/") or kind == "application/octet-stream"):
            return 415, _no(f"A file of type {kind[:80]!r} was sent.", "Pictures are allowed.")
        if _one(headers, b"content-encoding") not in ("", "identity"):
            return 415, _no("A packed body was sent.", "Bodies come as they are.")
        return None

    def _limit(self, scope: Scope) -> int:
        if scope["path"].endswith("/photos"):
            return self._photo_most()
        return OUTBOX_MOST if scope["path"] == "/api/outbox" else BODY_MOST


def _one(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> str:
    """The value of a header; "" where it is missing or given twice."""
    found = [value for key, value in headers if key.lower() == name]
    return found[0].decode("latin-1") if len(found) == 1 else ""


def _dressed(send: Send) -> Send:
    """Sending with our headers on every answer, which nothing behind us can change."""

    async def dressed(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            ours = {name for name, _ in HEADERS}
            kept = [(n, v) for n, v in message.get("headers", ()) if n.lower() not in ours]
            if not any(n.lower() == b"cache-control" for n, _ in kept):
                kept.append((b"cache-control", b"no-store"))
            message = {**message, "headers": [*kept, *HEADERS]}
        await send(message)

    return dressed


class _Counted:
    """Receiving, counted: TooLarge for the message that goes over the limit. (A body is read whole
    before anything is answered, so an answer has not begun by then.)"""

    def __init__(self, receive: Receive, limit: int) -> None:
        self._receive, self.limit = receive, limit
        self._got = 0
        self.over = False

    async def __call__(self) -> MutableMapping[str, Any]:
        message = await self._receive()
        if message["type"] == "http.request":
            self._got += len(message.get("body", b""))
            if self._got > self.limit:
                self.over = True
                raise TooLarge
        return message


def _large(limit: int) -> tuple[int, Refusal]:
    words = f"More than {limit:,} bytes were sent. Up to {limit:,} are taken. Send less at once."
    return 413, Refusal(code="too large", message=words)


def _foreign(*words: str) -> Refusal:
    return Refusal(code="foreign", message=" ".join(words))


def _no(*words: str) -> Refusal:
    return Refusal(code="refused", message=" ".join(words))


async def refuse(send: Send, status: int, refusal: Refusal) -> None:
    """Answer with a refusal."""
    body = refusal.model_dump_json(exclude_none=True).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    if status in (403, 413, 415):
        # What of the body was not read would be taken for the next request.
        headers.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
