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

from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.partfile.words import example
from mapper.job.records import Assembly, Job, Part, Person, Shop
from mapper.store.parts import add_part
from mapper.store.shop import create
from mapper.viewer.server.app import make_app
from tests.viewer.server.client import Client
from tests.viewer.server.talk import (
    ANN,
    BARE,
    BEN,
    COVER,
    JOB,
    LEFT,
    PORT,
    RIGHT,
    TOKEN,
)

Say = Callable[..., Any]


@pytest.fixture(scope="session")
def shop_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with two wings, a plate and a part without a shape; copied, never used itself."""
    folder = tmp_path_factory.mktemp("server") / "shop"
    wing = example("loft")
    store = create(folder, Shop("shop-1", "Field shop"), Person(ANN, "Ann"))
    with store, store.act(ANN, "set up", "action-set-up") as act:
        act.add(Person(BEN, "Ben"))
        act.add(Job(JOB, "Two-seater", airframe="TS 1", owner="Whoever pays"))
        act.add(Assembly("assembly-1", JOB, "Wings"))
        for key, side, code in ((RIGHT, "right", "RW-00"), (LEFT, "left", "LW-00")):
            text = wing.replace('side = "right"', f'side = "{side}"', 1)
            shape = build(read_text(text), triangles=2000)
            part = Part(key, JOB, "assembly-1", f"{side} outer wing", code=code)
            add_part(act, JOB, "assembly-1", part, shape)
        shape = build(read_text(example("plate")), triangles=400)
        part = Part(COVER, JOB, "assembly-1", "end plate", code="EP-00")
        add_part(act, JOB, "assembly-1", part, shape)
        part = Part(BARE, JOB, "assembly-1", "control column", code="CC-00")
        add_part(act, JOB, "assembly-1", part, None)
    return folder


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
