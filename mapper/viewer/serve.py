"""Serve the page at the wing to this machine's own browser: `mapper serve`.

The address stays the same from day to day, because what waits unsent on a device belongs to the
address it was recorded at: another port would hide it.
"""

from __future__ import annotations

import errno
import ipaddress
import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from mapper.errors import MapperError
from mapper.viewer import build_page
from mapper.viewer.server.app import make_app

PORT = 8717
GRACE = 3  # s that open event streams get at the end


def serve(
    folder: Path, *, host: str = "127.0.0.1", port: int = PORT, ready: Callable[[str], None]
) -> None:
    """Serve a shop until Ctrl-C or SIGTERM; `ready` is told the address once it answers.

    Raises MapperError for a folder that is no shop, a page that is not built, a port that is taken,
    and a host that other machines could reach.
    """
    address = _loopback(host)
    if not (build_page.STATIC / "index.html").is_file():
        raise MapperError(
            "The page is not built.",
            "It is made from mapper/viewer/page when the program is installed.",
            "Run `make page`, or install the program again.",
        )
    if not 1 <= port <= 65535:
        raise MapperError(f"The port {port} was given.", "A port is 1 to 65535.")
    app = make_app(folder, port=port)
    listener = _listen(address, port)
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=GRACE,
    )
    shown = f"[{address}]" if address.version == 6 else str(address)
    try:
        room = app.state.room
        _Server(config, lambda: ready(f"http://{shown}:{port}/"), room.feed.close).run(
            sockets=[listener]
        )
    finally:
        listener.close()


def _loopback(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address:
    try:
        address = ipaddress.ip_address("127.0.0.1" if host == "localhost" else host)
    except ValueError:
        raise MapperError(
            f"The host {host!r} was given.", "It is an address of this machine, as 127.0.0.1."
        ) from None
    if not address.is_loopback:
        raise MapperError(
            f"{host} can be reached from other machines.",
            "The page is served to this machine alone (127.0.0.1 or ::1): sign-in and a"
            " certificate, which others need, are not there yet.",
            "Leave --host off.",
        )
    return address


def _listen(address: ipaddress.IPv4Address | ipaddress.IPv6Address, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET6 if address.version == 6 else socket.AF_INET)
    # At once after an end by force the same address must be there again.
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((str(address), port))
    except OSError as error:
        listener.close()
        if error.errno == errno.EADDRINUSE:
            raise MapperError(
                f"Something is served at port {port} already.",
                "What waits unsent in a browser belongs to its address and port.",
                "Stop the other one, or give --port for another shop.",
            ) from error
        if error.errno == errno.EACCES:
            raise MapperError(
                f"The port {port} is not allowed to this user.", "Ports from 1024 up are."
            ) from error
        raise
    listener.listen(128)
    return listener


class _Server(uvicorn.Server):
    """Says when it answers, so that nobody is sent to an address that does not yet.

    Pages that listen are sent away first: their streams have no end of their own, and the server
    would wait for them and then break them off with a traceback.
    """

    def __init__(
        self, config: uvicorn.Config, ready: Callable[[], None], ending: Callable[[], None]
    ) -> None:
        super().__init__(config)
        self._ready = ready
        self._ending = ending

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._ending()
        await super().shutdown(sockets)
