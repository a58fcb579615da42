"""A way to the server that a test may break, and a server behind it in this process."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import uvicorn
from playwright.sync_api import Browser, BrowserContext

from mapper.viewer.server import pages
from mapper.viewer.server.app import make_app
from tests.viewer.conftest import CHROMIUM, soon
from tests.viewer.ports import free_port

PIECE = 65_536


class Way:
    """A TCP proxy on a port of this machine. `mode` says what it does with what goes through it:

    "open": passes it on; "mute": passes on what is asked, and swallows every answer; "hole":
    accepts, and swallows everything; "shut": breaks every connection off.
    """

    def __init__(self, to: int) -> None:
        self.to, self.port = to, free_port()
        self.mode = "open"
        self._ends: set[socket.socket] = set()
        self._listener = socket.create_server(("127.0.0.1", self.port))
        threading.Thread(target=self._accept, daemon=True).start()

    def be(self, mode: str) -> None:
        """Change what it does. What was swallowed never comes again, so open connections are
        broken off when it opens, as they are when a network comes back."""
        self.mode = mode
        if mode in ("open", "shut"):
            for end in list(self._ends):
                _close(end)

    def close(self) -> None:
        """End it."""
        self.be("shut")
        _close(self._listener)

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            if self.mode == "shut":
                _close(near)
                continue
            try:
                far = socket.create_connection(("127.0.0.1", self.to))
            except OSError:
                _close(near)
                continue
            self._ends |= {near, far}
            for given in ((near, far, ("open", "mute")), (far, near, ("open",))):
                threading.Thread(target=self._pass, args=given, daemon=True).start()

    def _pass(self, come: socket.socket, go: socket.socket, modes: tuple[str, ...]) -> None:
        with contextlib.suppress(OSError):
            while piece := come.recv(PIECE):
                if self.mode in modes:
                    go.sendall(piece)
        if self.mode in ("open", "shut"):
            _close(go)
            self._ends -= {come, go}


def _close(end: socket.socket) -> None:
    with contextlib.suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
    end.close()


class _Quiet(uvicorn.Server):
    """Says by an event that it answers."""

    ready: threading.Event

    async def startup(self, sockets: Any = None) -> None:
        await super().startup(sockets)
        self.ready.set()


@contextlib.contextmanager
def behind(shop: Path, static: Path = pages.STATIC) -> Iterator[Way]:
    """A server of a shop, reached by a way of its own."""
    port = free_port()
    way = Way(port)
    app = make_app(shop, port=way.port, static=static)
    config = uvicorn.Config(
        app,
        host="127.0.0.1",
        port=port,
        log_level="error",
        lifespan="off",
        timeout_graceful_shutdown=1,
    )
    server = _Quiet(config)
    server.ready = threading.Event()
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        assert server.ready.wait(60)
        yield way
    finally:
        way.close()
        app.state.room.feed.close()
        server.should_exit = True
        thread.join(60)
        app.state.room.close()


# -- a browser that is a process of its own, to be killed


def device(browser: Browser, folder: Path, **settings: Any) -> BrowserContext:
    """A browser that keeps what it has in a folder, over its own death."""
    made = browser.browser_type.launch_persistent_context(
        str(folder),
        executable_path=os.environ.get("MAPPER_CHROMIUM") or shutil.which("chromium"),
        args=CHROMIUM,
        **settings,
    )
    made.set_default_timeout(120_000)
    return made


def kill(folder: Path) -> int:
    """End the browser of that folder with all its processes, as a power cut would; how many."""
    table = dict(_processes())
    word = f"--user-data-dir={folder}"
    found = {pid for pid, (_, words) in table.items() if word in words}
    while more := {pid for pid, (parent, _) in table.items() if parent in found} - found:
        found |= more
    for pid in found:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
    soon(lambda: not any(pid in found and words for pid, (_, words) in _processes()))
    return len(found)


def _processes() -> Iterator[tuple[int, tuple[int, list[str]]]]:
    """(process, (its parent, its words)) of this machine; no words for one that has ended."""
    for path in Path("/proc").iterdir():
        if path.name.isdecimal():
            with contextlib.suppress(OSError):
                words = (path / "cmdline").read_bytes().decode(errors="replace").split("\0")
                parent = int((path / "stat").read_text().rsplit(")", 1)[1].split()[1])
                yield int(path.name), (parent, [w for w in words if w])
