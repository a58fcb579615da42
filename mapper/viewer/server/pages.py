"""The page's own files: bundled before (`mapper.viewer.build_page`), sent as they lie there."""

from __future__ import annotations

import re
from pathlib import Path

from fastapi import Request
from fastapi.responses import PlainTextResponse, Response

from mapper.errors import MapperError

STATIC = Path(__file__).parents[1] / "static"
TYPES = {
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
    ".webmanifest": "application/manifest+json",
}
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._\-]{0,99}")
# A name with a digest of its contents in it never means anything else.
_HASHED = re.compile(r".*-[A-Za-z0-9]{8,}\.[a-z0-9]+")
IMMUTABLE = "public, max-age=31536000, immutable"


class NoSuchFile(MapperError):
    """A file that the page does not have."""


def build_of(static: Path = STATIC) -> str:
    """What the built page calls its build; "" where nothing is built."""
    try:
        return (static / "digest.txt").read_text().strip()[:16]
    except OSError:
        return ""


def page_file(name: str, request: Request, static: Path = STATIC) -> Response:
    """One of the page's files, packed where the browser takes that. NoSuchFile for other names."""
    path = static / name
    kind = TYPES.get(path.suffix)
    # The name is looked at first: the system itself refuses to look for some.
    if not _NAME.fullmatch(name) or kind is None or not path.is_file():
        raise NoSuchFile(f"There is no file {name[:80]!r} of the page.")
    headers = {
        "cache-control": IMMUTABLE if _HASHED.fullmatch(name) else "no-cache",
        "vary": "accept-encoding",
    }
    packed = path.with_name(f"{name}.gz")
    if takes_gzip(request) and packed.is_file():
        headers["content-encoding"] = "gzip"
        path = packed
    return Response(path.read_bytes(), media_type=kind, headers=headers)


def takes_gzip(request: Request) -> bool:
    """Whether whoever asks takes an answer packed with gzip."""
    given = request.headers.get("accept-encoding", "").lower()
    words = [word.split(";") for word in given.split(",")]
    return any(
        w[0].strip() == "gzip" and not any(q.strip() in ("q=0", "q=0.0") for q in w[1:])
        for w in words
    )


def first_page(request: Request, static: Path = STATIC) -> Response:
    """The page itself, or how to build it."""
    if not (static / "index.html").is_file():
        return PlainTextResponse(
            "The page is not built. Build it: python -m mapper.viewer.build_page\n", 503
        )
    return page_file("index.html", request, static)
