"""A small shop with a left and a right wing, and what talks to its server."""

from __future__ import annotations

import io
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from mapper.viewer.server.app import make_app
from tests.shared import made_once
from tests.viewer.server.client import Client
from tests.viewer.server.shops import make_shop
from tests.viewer.server.talk import (
    JOB,
    PORT,
    TOKEN,
)

Say = Callable[..., Any]


@pytest.fixture(scope="session")
def shop_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop to be copied, never used itself."""
    made = made_once(tmp_path_factory, "server-shop", lambda folder: make_shop(folder / "shop"))
    return made / "shop"


@pytest.fixture
def shop(shop_made: Path, tmp_path: Path) -> Path:
    """A shop of the test's own."""
    return Path(shutil.copytree(shop_made, tmp_path / "shop"))


@pytest.fixture
def app(shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """The application of that shop, as in one process."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    made = make_app(shop, port=PORT, token=TOKEN)
    yield made
    made.state.room.close()


@pytest.fixture
def page(app: Any) -> Client:
    """A client that asks as our page does."""
    return Client(app)


@pytest.fixture
def say(page: Client) -> Say:
    """Send a message to an address of the job; the answer's content, whose status must be as
    expected (200 unless `status` says otherwise)."""

    def said(path: str, message: Any, status: int = 200) -> Any:
        got = page.post(f"/api/jobs/{JOB}/{path}", json=message)
        assert got.status_code == status, got.text[:2000]
        return got.json()

    return said


@pytest.fixture
def book(page: Client) -> Callable[[], Any]:
    """The whole job as the page takes it along."""
    return lambda: page.get(f"/api/jobs/{JOB}/book").json()


def picture(size: tuple[int, int] = (64, 48), exif: Any = None) -> bytes:
    """The bytes of a small JPEG, with what a camera writes in it."""
    ramp = np.add.outer(np.arange(size[1]) * 2, np.arange(size[0])).astype(np.uint8)
    out = io.BytesIO()
    more = {} if exif is None else {"exif": exif}
    Image.fromarray(ramp).convert("RGB").save(out, "JPEG", **more)
    return out.getvalue()
