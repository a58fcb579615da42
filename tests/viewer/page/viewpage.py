"""The views of the page alone, on real shapes, served with the page's strict policy."""

from __future__ import annotations

import functools
import http.server
import os
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from mapper.job.partfile.build import build
from mapper.job.partfile.read import read
from mapper.surface.geometry import Geometry
from mapper.viewer import build_page
from mapper.viewer.server.shapes import shape_bytes

HERE = Path(__file__).parent
PAGE = Path(build_page.HERE) / "page"
STYLE = Path(build_page.HERE).parent / "drawing" / "style.json"
EXAMPLES = Path(build_page.HERE).parent / "job" / "partfile" / "examples"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:;"
    " connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none';"
    " require-trusted-types-for 'script'"
)
HTML = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Views</title>'
    '<meta name="viewport" content="width=device-width">'
    '<link rel="icon" href="data:,"><link rel="stylesheet" href="/views.css"></head>'
    '<body><div id="host"></div><script src="/views.js"></script></body></html>'
)
CSS = (
    "html,body{margin:0;height:100%;background:#eceef0}#host{position:absolute;inset:0}"
    "@media (prefers-color-scheme:dark){html,body{background:#1b1e22}}"
)


@functools.cache
def geometry(name: str, triangles: int = 20_000) -> Geometry:
    """The geometry of a worked part file."""
    return build(read(EXAMPLES / f"{name}.toml"), triangles=triangles)


@functools.cache
def _bytes(name: str, triangles: int, units: str) -> bytes:
    return shape_bytes(geometry(name, triangles), units)


def bundle(source: str, out: Path) -> Path:
    """One of the TypeScript files beside this one as a script for the browser."""
    target = out / f"{Path(source).stem}.js"
    build_page.install()
    path = os.pathsep.join((str(build_page.node() / "bin"), "/usr/bin", "/bin"))
    subprocess.run(
        [
            str(PAGE / "node_modules" / ".bin" / "esbuild"),
            str(HERE / source),
            "--bundle",
            "--format=iife",
            "--target=es2022",
            "--log-level=warning",
            f"--outfile={target}",
        ],
        check=True,
        env={"PATH": path, "NODE_PATH": str(PAGE / "node_modules")},
    )
    return target


@contextmanager
def serving(out: Path, source: str = "views.ts") -> Iterator[str]:
    """The address of a page with the views on it; /shapes/NAME or NAME@TRIANGLES are shapes."""
    script = bundle(source, out).read_bytes()

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            path = self.path.split("?")[0]
            kind, data = "application/octet-stream", b""
            if path == "/":
                kind, data = "text/html; charset=utf-8", HTML.encode()
            elif path == "/views.js":
                kind, data = "text/javascript", script
            elif path == "/views.css":
                kind, data = "text/css", CSS.encode()
            elif path == "/style.json":
                kind, data = "application/json", STYLE.read_bytes()
            elif path.startswith("/shapes/"):
                name, _, count = path.removeprefix("/shapes/").partition("@")
                data = _bytes(name, int(count or 20_000), "metric")
            self.send_response(200 if data else 404)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(data)))
            self.send_header("Content-Security-Policy", POLICY)
            self.end_headers()
            self.wfile.write(data)

        def log_message(self, *_: object) -> None:
            """Nothing: a test's output is its own."""

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
