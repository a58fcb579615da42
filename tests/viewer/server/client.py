"""A client of the application in the same process, one request at a time."""

from __future__ import annotations

from typing import Any

import httpx

from tests.viewer.server.talk import ADDRESS, OURS, finished


class Client:
    """Asks as our page does; other headers may be given, None leaves one of ours out."""

    def __init__(self, app: Any) -> None:
        self._app = app

    def get(self, path: str, **more: Any) -> httpx.Response:
        """A GET."""
        return self.request("GET", path, **more)

    def post(self, path: str, **more: Any) -> httpx.Response:
        """A POST."""
        return self.request("POST", path, **more)

    def request(
        self, method: str, path: str, *, headers: Any = None, **more: Any
    ) -> httpx.Response:
        """Any request; an error inside the application comes as its answer."""
        given = {**OURS, **(headers or {})}
        kept = {name: value for name, value in given.items() if value is not None}

        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(self._app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url=ADDRESS) as client:
                return await client.request(method, path, headers=kept, **more)

        return finished(ask())
