"""A real server with a small shop, and a real browser, for tests of the page.

What a test does in the browser must end without an error on its console and without a breach of
the content policy: the `look` fixture fails the test otherwise.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from mapper.viewer import build_page

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


def lacking(word: str) -> None:
    """Skip with a word, or fail where nothing may be skipped."""
    if os.environ.get("MAPPER_NO_SKIP") == "1":
        pytest.fail(word)
    pytest.skip(word)


def mapper(*words: str, shop: Path | None = None, cwd: Path | None = None) -> str:
    """Run the command line as typed; its output. The test fails where it ends with an error."""
    done = subprocess.run(
        [*PROGRAM, *words],
        env={**os.environ, **({"MAPPER_SHOP": str(shop)} if shop else {})},
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="session")
def built_page() -> Path:
    """The bundled page, made anew if its sources changed."""
    build_page.build()
    return build_page.STATIC


@pytest.fixture(scope="session")
def shop_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with one job, a right and a left wing, and a few entries; to be copied, not used."""
    folder = tmp_path_factory.mktemp("made")
    shop = folder / "shop"
    mapper("new", "shop", str(shop), "Our shop", "--person", PERSON)
    mapper("new", "job", JOB, "--owner", "Whoever pays", shop=shop)
    example = mapper("example", "loft")
    for side, code in (("right", PART), ("left", LEFT)):
        part = folder / f"{side}.toml"
        part.write_text(example.replace('side = "right"', f'side = "{side}"', 1))
        mapper("add", "assembly", f"{side} wing", shop=shop)
        words = ["--assembly", f"{side} wing", "--code", code, "--name", f"{side} wing"]
        mapper("add", "part", str(part), *words, shop=shop)
    add = ("add", "entry")
    mapper(*add, "finding", PART, "--disc", "1500", "30", "25", "--side", "upper",
           "--set", "what=corrosion", shop=shop)  # fmt: skip
    mapper(*add, "inspected area", PART, "--stations", "900", "1800", "--side", "upper",
           "--set", "technique=glass", shop=shop)  # fmt: skip
    mapper(*add, "masking", PART, "--line", "1200 62, 1600 62", "--side", "upper", shop=shop)
    return shop


@pytest.fixture
def shop(shop_made: Path, tmp_path: Path) -> Path:
    """A shop of the test's own."""
    return Path(shutil.copytree(shop_made, tmp_path / "shop"))


def free_port() -> int:
    """A port that nothing listens at now."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@dataclass
class Served:
    """`mapper serve` as a process, at one address that it keeps when it is started again."""

    folder: Path
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[str] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> Served:
        """Start it, and come back when it has said its address."""
        self.process = subprocess.Popen(
            [*PROGRAM, "serve", "--shop", str(self.folder), "--port", str(self.port)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert self.address in line, f"the server said {line!r} and {self.process.poll()}"
        return self

    def kill(self) -> None:
        """End it by force, as a power cut would."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> int:
        """End it as Ctrl-C does; its exit code."""
        assert self.process is not None
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        return self.process.wait(20)

    def get(self, path: str) -> bytes:
        """What it answers to a plain GET."""
        with urllib.request.urlopen(self.address + path, timeout=20) as answer:
            return bytes(answer.read())


@pytest.fixture
def served(built_page: Path, shop: Path) -> Iterator[Served]:
    """A server of the test's own."""
    made = Served(shop).start()
    yield made
    if made.process is not None and made.process.poll() is None:
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
        made.set_default_timeout(20_000)
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


def soon(what: Callable[[], Any], seconds: float = 40.0) -> Any:
    """What `what` gives as soon as it is true; the test fails after so many seconds.

    (The page's policy forbids the text that the driver's own waiting would have evaluated.)
    """
    end = time.monotonic() + seconds
    while True:
        found = what()
        if found:
            return found
        assert time.monotonic() < end, "it did not become true"
        time.sleep(0.05)
