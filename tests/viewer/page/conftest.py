"""The views on a page of their own, for the tests that are called test_views_*."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Browser, BrowserContext, Page

from tests.viewer.conftest import PATIENCE, UNHURRIED
from tests.viewer.page.viewpage import serving

Array = NDArray[np.float64]


@dataclass
class Views:
    """A page with the views of one part, and short words for what tests do with it."""

    page: Page
    wrong: list[str] = field(default_factory=list)

    def run(self, words: str, given: Any = None) -> Any:
        """Evaluate in the page; `bench` is the object of views.ts."""
        return self.page.evaluate(words, given)

    def settled(self) -> None:
        """Wait until everything is drawn and the camera rests."""
        self.run("bench.settled()")

    def load(self, name: str, face: int = 0) -> None:
        """Show a worked example of a part file, nothing drawn on it."""
        self.run("bench.views.setTool({type: 'look'})")
        self.run("bench.items = []; bench.clear(); bench.views.setUnseen(null)")
        self.run("([n, f]) => bench.load(n, 0, f)", [name, face])
        self.run("bench.views.fit(); bench.taps = []; bench.notes = []; bench.faces = []")
        self.settled()

    def tool(self, **tool: Any) -> None:
        """Take a tool in hand."""
        self.run("tool => bench.views.setTool(tool)", tool)

    def screen(self, flat: Any, where: str) -> tuple[float, float] | None:
        """Where a place of the map is on the page, CSS px; None where it cannot be seen."""
        at = self.run("([f, w]) => bench.views.screenOf(f, w)", [list(map(float, flat)), where])
        return None if at is None else (at[0], at[1])

    def drag(self, way: list[tuple[float, float]]) -> None:
        """The left button held along the way."""
        self.page.mouse.move(*way[0])
        self.page.mouse.down()
        for at in way[1:]:
            self.page.mouse.move(*at)
        self.page.mouse.up()

    def drawn(self) -> list[dict[str, Any]]:
        """The shapes of all gestures since the last clear."""
        return list(self.run("bench.drawn.flat()"))


def along(start: Any, end: Any, count: int) -> list[tuple[float, float]]:
    """Places evenly on the straight way, both ends included."""
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    return [tuple(a + t * (b - a)) for t in np.linspace(0, 1, count)]


def apart(path: Any, other: Any) -> float:
    """The largest distance of points of one path from the other, mm."""
    here, there = np.asarray(path, dtype=float), np.asarray(other, dtype=float)
    most = 0.0
    for p in here:
        least = math.inf
        for a, b in pairwise(there):
            step = b - a
            t = np.clip((p - a) @ step / max(step @ step, 1e-12), 0, 1)
            least = min(least, float(np.hypot(*(p - a - t * step))))
        most = max(most, least)
    return most


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the views are served."""
    with serving(tmp_path_factory.mktemp("views")) as found:
        yield found


def open_views(browser: Browser, address: str, **settings: Any) -> tuple[BrowserContext, Views]:
    """A page of its own; size, pixel ratio, touch as given."""
    context = browser.new_context(**{"viewport": {"width": 900, "height": 520}, **settings})
    context.set_default_timeout(PATIENCE * 1000)
    context.add_init_script(UNHURRIED)
    views = Views(context.new_page())
    views.page.on("pageerror", lambda error: views.wrong.append(f"error: {error}"))
    views.page.on(
        "console", lambda said: views.wrong.append(said.text) if said.type == "error" else None
    )
    views.page.goto(address)
    return context, views


@pytest.fixture(scope="module")
def kept_views(chromium: Browser, address: str) -> Iterator[Views]:
    """One page for a module's tests."""
    context, views = open_views(chromium, address, has_touch=True)
    yield views
    context.close()


@pytest.fixture
def views(kept_views: Views) -> Iterator[Views]:
    """The module's page; a test during which its console had something to say fails."""
    kept_views.wrong.clear()
    yield kept_views
    assert not kept_views.wrong, kept_views.wrong
