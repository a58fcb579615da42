"""`python -m demo.page_pictures`: the pictures of the page in README, taken in a real browser."""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import time
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Browser, Error, Page, sync_playwright

HERE = Path(__file__).parent / "pictures"
PORT = 8719
BROWSER = [
    "--headless=new",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--no-sandbox",
    "--disable-background-networking",
    "--no-first-run",
]
PATIENCE = 300_000  # ms: a first start makes every shape


def main() -> int:
    """Serve a copy of the demo's shop and take the pictures; 2 with a word where that fails."""
    parser = argparse.ArgumentParser(prog="demo.page_pictures", description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("demo/out"), help="where the demo went")
    asked = parser.parse_args()
    program = os.environ.get("MAPPER_CHROMIUM") or shutil.which("chromium")
    if program is None:
        print("demo.page_pictures: no Chromium here (Debian: chromium).", file=sys.stderr)
        return 2
    # A copy: what is drawn for a picture is no part of the demonstration.
    shop = asked.out / "shop_for_pictures"
    shutil.rmtree(shop, ignore_errors=True)
    shutil.copytree(asked.out / "shop", shop)
    words = [sys.executable, "-c", "from mapper.cli.main import run; run()", "serve"]
    words += ["--shop", str(shop), "--port", str(PORT)]
    server = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    try:
        assert server.stdout is not None
        server.stdout.readline()  # it says its address when it answers
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=program, args=BROWSER)
            _take(browser)
    except Error as error:
        print(f"demo.page_pictures: {error}", file=sys.stderr)
        return 2
    finally:
        server.terminate()
        server.wait()
        shutil.rmtree(shop, ignore_errors=True)
    return 0


def _take(browser: Browser) -> None:
    """The airframe, a part with a finding being recorded, and both on a phone."""
    desk = _opened(browser, 1280, 800)
    _airframe(desk)
    desk.screenshot(path=HERE / "page_airframe.png")
    _part(desk)
    desk.get_by_role("button", name="Record").click()
    desk.locator(".kind", has_text="Finding").click()
    time.sleep(3)
    desk.screenshot(path=HERE / "page_part.png")
    desk.close()
    phone = _opened(browser, 390, 844, has_touch=True)
    _airframe(phone)
    taken = [phone.screenshot()]
    _part(phone)
    taken.append(phone.screenshot())
    pictures = [Image.open(BytesIO(one)).convert("RGB") for one in taken]
    both = Image.new("RGB", (2 * 390 + 24, 844), "#ffffff")
    for number, picture in enumerate(pictures):
        both.paste(picture, (number * (390 + 24), 0))
    both.save(HERE / "page_phone.png", optimize=True)


def _airframe(page: Page) -> None:
    page.get_by_text("Shapes are coming").wait_for(state="detached")
    time.sleep(2)


def _opened(browser: Browser, width: int, height: int, **more: Any) -> Page:
    page = browser.new_page(viewport={"width": width, "height": height}, **more)
    page.set_default_timeout(PATIENCE)
    page.goto(f"http://127.0.0.1:{PORT}/")
    page.locator(".ask button").first.click()
    page.locator("button", has_text="RW-00").first.wait_for()
    return page


def _part(page: Page) -> None:
    page.locator("button", has_text="RW-00").first.click()
    # Not the buttons of the faces: a narrow screen has a list in their place.
    page.locator(".views-stage").wait_for()
    page.locator(".instead").wait_for(state="hidden")
    time.sleep(6)


if __name__ == "__main__":
    sys.exit(main())
