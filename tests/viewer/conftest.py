"""A real server with a small shop, and a real browser, for tests of the page.

What a test does in the browser must end without an error on its console and without a breach of
the content policy: the `look` fixture fails the test otherwise.
"""

from __future__ import annotations

import os
import shlex
import shutil
import signal
import subprocess
import sys
import time
import urllib.request
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.records import Part
from mapper.store.parts import add_part
from mapper.store.shop import open_shop
from mapper.viewer import build_page
from mapper.viewer.server.room import Room
from tests.cli.typed import fine
from tests.shared import made_once
from tests.viewer.ports import free_port
from tests.viewer.server.serve import Mother

CHROMIUM = [
    "--headless=new",
    "--use-gl=angle",
    "--use-angle=swiftshader",  # no graphics card on test machines: WebGL by software
    "--enable-unsafe-swiftshader",
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-quic",
    "--no-first-run",
]
PROGRAM = (sys.executable, "-c", "from mapper.cli.main import run; run()")
PERSON, JOB, PART, LEFT = "Mara Tolvik", "Wing, no. 17", "RW-00", "LW-00"
TRIANGLES = 4000
# What never comes fails after so long; nothing that a slow machine does may last as long.
PATIENCE = 120.0  # seconds
# A person's own quickness is no matter of these tests: between two taps of the driver a loaded
# machine may take longer than any person. So the clock of taps goes slowly, and a button that waits
# for its second tap (6 s, `twice` in ui/el.ts) waits long.
UNHURRIED = """(() => {
  const real = Object.getOwnPropertyDescriptor(Event.prototype, "timeStamp").get;
  const slow = function () { return real.call(this) / 100; };
  Object.defineProperty(Event.prototype, "timeStamp", { get: slow, configurable: true });
  const plain = window.setTimeout;
  window.setTimeout = (work, ms, ...given) => plain(work, ms === 6000 ? 600000 : ms, ...given);
})()"""


def lacking(word: str) -> None:
    """Skip with a word, or fail where nothing may be skipped."""
    if os.environ.get("MAPPER_NO_SKIP") == "1":
        pytest.fail(word)
    pytest.skip(word)


def mapper(*words: str, shop: Path | None = None) -> str:
    """What the command line says to these words. The test fails where it ends with an error."""
    return fine(shlex.join(words), **({"MAPPER_SHOP": str(shop)} if shop else {}))


@pytest.fixture(scope="session")
def built_page() -> Path:
    """The bundled page, made anew if its sources changed."""
    build_page.build()
    return build_page.STATIC


def fill(folder: Path) -> None:
    """A shop with one job, a right and a left wing, and a few entries."""
    shop = folder / "shop"
    example = fine("example loft")
    fine(f"new shop {shop} 'Our shop' --person '{PERSON}'")
    fine(f"new job '{JOB}' --owner 'Whoever pays' --shop {shop}")
    for side in ("right", "left"):
        fine(f"add assembly '{side} wing' --shop {shop}")
    with open_shop(shop) as store:
        (job,), (by,) = store.jobs(), store.people()
        for side, code in (("right", PART), ("left", LEFT)):
            text = example.replace('side = "right"', f'side = "{side}"', 1)
            # As many triangles as the views need, and not as many as a report's.
            shape = build(read_text(text), triangles=TRIANGLES)
            book = store.book(job.id)
            (to,) = (a for a in book.assemblies if a.name == f"{side} wing")
            name = f"{side} wing"
            part = Part(str(uuid.uuid4()), job.id, to.id, name, code=code, part_file=text)
            with store.act(by, f"new part {name}") as act:
                add_part(act, job, to.id, part, shape)
    for words in (
        "finding RW-00 --disc 1500 30 25 --side upper --set what=corrosion",
        "'inspected area' RW-00 --stations 900 1800 --side upper --set technique=glass",
        "masking RW-00 --line '1200 62, 1600 62' --side upper",
    ):
        fine(f"add entry {words} --shop {shop}")


@pytest.fixture(scope="session")
def shop_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """That shop; to be copied, not used."""
    return made_once(tmp_path_factory, "page-shop", fill) / "shop"


@pytest.fixture
def shop(shop_made: Path, tmp_path: Path) -> Path:
    """A shop of the test's own."""
    return Path(shutil.copytree(shop_made, tmp_path / "shop"))


@dataclass
class Served:
    """A shop served at one address, which it keeps when it is started again.

    It is served by `mapper.viewer.serve` in a process that was split off from one that has loaded
    the program; with `typed` by the command itself.
    """

    folder: Path
    mother: Mother | None = None
    port: int = field(default_factory=free_port)
    typed: subprocess.Popen[str] | None = None
    complained: str = ""  # what the typed one wrote to stderr, once it has ended

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> Served:
        """Start it, and come back when it has said its address."""
        if self.mother is not None:
            line = self.mother.bear(self.folder, self.port)
        else:
            words = ["serve", "--shop", str(self.folder), "--port", str(self.port)]
            self.typed = subprocess.Popen(
                [*PROGRAM, *words],
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                # Jobs in the background of a shell are born deaf to Ctrl-C.
                preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
            )
            line = self.typed.stdout.readline()  # type: ignore[union-attr]
        assert self.address in line, f"the server said {line!r}"
        return self

    def end(self, how: int) -> int | None:
        """Send it a signal, and come back when it is gone; the exit code of a typed one."""
        if self.mother is not None:
            self.mother.end(how)
            return None
        assert self.typed is not None
        if self.typed.poll() is None:
            self.typed.send_signal(how)
            self.complained = self.typed.communicate()[1]
        return self.typed.returncode

    def kill(self) -> None:
        """End it by force, as a power cut would."""
        self.end(signal.SIGKILL)

    def get(self, path: str) -> bytes:
        """What it answers to a plain GET."""
        with urllib.request.urlopen(self.address + path, timeout=PATIENCE) as answer:
            return bytes(answer.read())


@pytest.fixture(scope="session")
def cache(tmp_path_factory: pytest.TempPathFactory, shop_made: Path) -> Path:
    """The user's cache folder for all servers of a run, with the shapes of that shop in it."""

    def work_out(folder: Path) -> None:
        shutil.copytree(shop_made, folder / "shop")
        with mock.patch.dict("os.environ", XDG_CACHE_HOME=str(folder)):
            room = Room(folder / "shop")
            for job in room.store.jobs():
                for part in room.store.book(job.id).parts:
                    room.shape(part.geometry, "metric")
            room.close()

    return made_once(tmp_path_factory, "page-cache", work_out)


@pytest.fixture(scope="session")
def mother(cache: Path) -> Iterator[Mother]:
    """The process that servers are split off from."""
    made = Mother(XDG_CACHE_HOME=str(cache))
    yield made
    made.close()


@pytest.fixture
def served(built_page: Path, shop: Path, mother: Mother) -> Iterator[Served]:
    """A server of the test's own."""
    made = Served(shop, mother).start()
    yield made
    made.kill()


@pytest.fixture
def served_as_typed(
    built_page: Path, shop: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Served]:
    """The same by the command `mapper serve`, with everything it does."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(cache))
    made = Served(shop).start()
    yield made
    made.kill()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium without a screen."""
    program = os.environ.get("MAPPER_CHROMIUM") or shutil.which("chromium")
    if program is None:
        lacking("no Chromium here (Debian: chromium, or MAPPER_CHROMIUM names one)")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=CHROMIUM)
        yield browser
        browser.close()


@dataclass
class Looker:
    """Opens pages and gathers what goes wrong in them."""

    browser: Browser
    wrong: list[str] = field(default_factory=list)
    contexts: list[BrowserContext] = field(default_factory=list)

    def context(self, **settings: Any) -> BrowserContext:
        """A browser of its own: another device."""
        made = self.browser.new_context(**{"viewport": {"width": 1024, "height": 768}, **settings})
        made.set_default_timeout(PATIENCE * 1000)
        made.add_init_script(UNHURRIED)
        self.contexts.append(made)
        return made

    def page(self, address: str, context: BrowserContext | None = None, **settings: Any) -> Page:
        """A page at an address; its console and its policy are listened to from the beginning."""
        page = (context or self.context(**settings)).new_page()
        page.on("pageerror", lambda error: self.wrong.append(f"error: {error}"))
        page.on("console", lambda said: self._heard(said.type, said.text))
        page.goto(address)
        return page

    def _heard(self, kind: str, text: str) -> None:
        # That a request found no network, or was refused, is the browser's own note; what the page
        # makes of it is for the tests.
        if kind == "error" and "Failed to load resource" not in text and "net::ERR_" not in text:
            self.wrong.append(f"console: {text}")


@pytest.fixture
def look(chromium: Browser) -> Iterator[Looker]:
    """Pages for one test, which fails where the console or the policy had something to say."""
    made = Looker(chromium)
    yield made
    for context in made.contexts:
        context.close()
    assert not made.wrong, made.wrong


def soon(what: Callable[[], Any]) -> Any:
    """What `what` gives as soon as it is true; the test fails where it never is.

    (The page's policy forbids the text that the driver's own waiting would have evaluated.)
    """
    end = time.monotonic() + PATIENCE
    while True:
        found = what()
        if found:
            return found
        assert time.monotonic() < end, "it did not become true"
        time.sleep(0.05)
