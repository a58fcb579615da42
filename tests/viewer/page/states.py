"""The states of the page, each with its address on the stage and the taps that lead there.

`python -m tests.viewer.page.states FOLDER [SIZE ...] [dark|forced]` takes a picture of each, to be
looked at.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image, ImageDraw
from playwright.sync_api import Page, sync_playwright

SIZES = {
    "phone-320": (320, 640),
    "phone-390": (390, 844),
    "lying": (1024, 768),
    "standing": (768, 1024),
    "desk": (1440, 900),
    "large": (3840, 2160),
}
Act = Callable[[Page], object]


def picture() -> bytes:
    """A small JPEG with a scale on it."""
    image = Image.new("RGB", (480, 320), "#9a9c9e")
    pen = ImageDraw.Draw(image)
    pen.ellipse((200, 130, 240, 165), fill="#4b4642")
    pen.rectangle((20, 280, 220, 295), fill="#111111")
    kept = io.BytesIO()
    image.save(kept, "JPEG")
    return kept.getvalue()


REST = """async () => {
  for (;;) {
    await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
    const moving = document.getAnimations().filter((one) =>
      one.playState === 'running' && one.effect.getComputedTiming().iterations !== Infinity);
    if (moving.length === 0) return;
    await Promise.all(moving.map((one) => one.finished.catch(() => {})));
  }
}"""


def rest(page: Page) -> None:
    """Wait until what was changed is laid out and drawn, and nothing moves any more."""
    page.evaluate(REST)


def tap(page: Page, across: float = 0.47, up: float = 0.35) -> None:
    """Tap the flat map: there (shares of the plate), in whichever way the two views lie."""
    rest(page)
    box = page.locator(".views").bounding_box()
    assert box is not None
    lying = box["width"] > box["height"]
    x, y = (0.5 + across / 2, up + 0.1) if lying else (across, 0.5 + up)
    page.mouse.click(box["x"] + box["width"] * x, box["y"] + box["height"] * y)


def button(page: Page, name: str) -> None:
    """Tap a button by its words."""
    page.get_by_role("button", name=name).first.click()


def open_part(page: Page, name: str = "right outer wing") -> None:
    """From the list to a part, and wait until its shape is drawn."""
    page.locator(".part-list .row-button", has_text=name).first.click()
    page.locator(".part-screen").wait_for()
    page.locator(".instead").wait_for(state="hidden")


def tool(page: Page, name: str) -> None:
    """Take a tool from the bar."""
    page.locator(".tool", has_text=name).click()


def here(page: Page) -> None:
    """A tap on the open part."""
    open_part(page)
    tap(page)
    page.locator(".here .kind").first.wait_for()


def form(page: Page, kind: str = "Finding") -> None:
    """A new entry of a kind at a tapped place."""
    here(page)
    # Where something lies already, all but findings are folded.
    folded = page.locator(".here summary")
    if folded.count() > 0 and kind != "Finding":
        folded.click()
    page.locator(".kind", has_text=kind).first.click()
    page.locator(".form .fields").first.wait_for()


def more(page: Page) -> None:
    """The fields behind "More"."""
    form(page)
    page.get_by_role("radio", name="corrosion", exact=True).check()
    page.locator("summary", has_text="More").click()


def slip(page: Page) -> None:
    """A number with a comma."""
    form(page)
    page.get_by_role("radio", name="dent").check()
    value = page.get_by_label("value, mm").first
    value.fill("0,5")
    value.blur()


def records(page: Page) -> None:
    """A record of the coats aimed at."""
    form(page, "Blasting round")
    page.locator("summary", has_text="More").click()
    button(page, "Add one")


def cautions(page: Page) -> None:
    """The cautions of an application, opened."""
    form(page, "Application")
    page.locator("summary", has_text="Take care").click()


def take_photo(page: Page) -> None:
    """Choose a picture where the camera would be."""
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Photo", exact=True).click()
    file = {"name": "pit.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    chooser.value.set_files(file)  # type: ignore[arg-type]
    page.locator(".thumbs img").first.wait_for()


def photo(page: Page) -> None:
    """A finding with a photo."""
    form(page)
    take_photo(page)


def scale(page: Page) -> None:
    """The scale of a photo, by two taps."""
    photo(page)
    button(page, "Set its scale")
    canvas = page.locator("canvas.marks")
    canvas.click(position={"x": 40, "y": 60})
    canvas.click(position={"x": 160, "y": 60})


def drawn(page: Page) -> None:
    """A stroke before its kind is said."""
    open_part(page)
    tool(page, "Brush")
    tap(page)
    page.locator(".form .kind").first.wait_for()


def sheet(name: str, *buttons: str) -> Act:
    """A sheet of the open part, and buttons in it."""

    def act(page: Page) -> None:
        open_part(page)
        page.locator(f"[data-key='sheet {name}']").click()
        for words in buttons:
            button(page, words)

    return act


def typed(way: str) -> Act:
    """One way to give numbers."""

    def act(page: Page) -> None:
        open_part(page)
        tool(page, "Typed")
        button(page, way)

    return act


def entry(page: Page) -> None:
    """One entry as it stands."""
    sheet("entries")(page)
    page.locator(".entries .row-button", has_text="pitting").click()
    page.locator(".entry-sheet h2").wait_for()


def waiting(*buttons: str) -> Act:
    """What waits on this device, and buttons there."""

    def act(page: Page) -> None:
        page.locator("[data-key='unsent']").click()
        for words in buttons:
            button(page, words)

    return act


def find(words: str) -> Act:
    """Something typed into the search."""
    return lambda page: page.locator("#find").fill(words)


def done(page: Page) -> None:
    """A finding that was kept."""
    form(page)
    page.get_by_role("radio", name="dent").check()
    button(page, "Done")
    page.locator(".entry-sheet h2").wait_for()


def nothing(page: Page) -> None:
    """As it opens."""


STATES: dict[str, tuple[str, Act]] = {
    "who records": ("?who=", nothing),
    "someone else": ("?who=", lambda page: button(page, "Someone else")),
    "which job": ("?job=", nothing),
    "no job": ("?job=&jobs=none", nothing),
    "server never reached": ("?first=lost", nothing),
    "airframe": ("", nothing),
    "airframe without parts": ("?book=none", nothing),
    "airframe, skins hidden": ("", lambda page: button(page, "Hide skins")),
    "entries of the job": ("", lambda page: button(page, "Entries")),
    "found a part": ("", find("aileron")),
    "found a bag": ("", find("B-017")),
    "found nothing": ("", find("zzz")),
    "part": ("", open_part),
    "part, shape lost": (
        "?shape=lost",
        lambda page: page.locator(".part-list .row-button").first.click(),
    ),
    "part without a shape": (
        "",
        lambda page: page.locator(".part-list .row-button", has_text="pitot").click(),
    ),
    "place tapped": ("", here),
    "brush": ("", lambda page: (open_part(page), tool(page, "Brush"))),
    "line": ("", lambda page: (open_part(page), tool(page, "Line"))),
    "drawn, kind not said": ("", drawn),
    "form": ("", form),
    "form, more": ("", more),
    "form, a slip": ("", slip),
    "form, records": ("", records),
    "form, cautions": ("", cautions),
    "form, as last time": ("", lambda page: form(page, "Inspected area")),
    "form, photo": ("", photo),
    "photo, scale": ("", scale),
    "typed box": ("", typed("Stations and % chord")),
    "typed tape": ("", typed("Rib and tape")),
    "typed panel": ("", typed("Panel")),
    "entries": ("", sheet("entries")),
    "to complete": ("", sheet("entries", "To complete")),
    "entry": ("", entry),
    "show": ("", sheet("show")),
    "kept": ("", done),
    "unsent": ("?outbox=waiting&net=off&kept=no", waiting()),
    "refused": ("?outbox=refused", waiting()),
    "drop, second tap": ("?outbox=refused", waiting("Drop it")),
    "two versions": ("?outbox=stale", waiting("See both versions")),
    "two versions, one removed": ("?outbox=gone", waiting("See both versions")),
    "taken along": ("", waiting("Take the job along")),
    "drafts": ("?drafts=one", lambda page: page.locator("dialog").wait_for()),
    "newer page": ("?newer=1", nothing),
    "no network": ("?net=off&outbox=waiting&kept=no", open_part),
    "who, changed": ("", lambda page: page.locator("[data-key='who']").click()),
}


def main(folder: Path, sizes: list[str], theme: str) -> None:
    """Take a picture of every state at each size."""
    from tests.viewer.conftest import CHROMIUM
    from tests.viewer.page.stage import Stage, make_stage

    folder.mkdir(parents=True, exist_ok=True)
    settings = {"dark": {"color_scheme": "dark"}, "forced": {"forced_colors": "active"}}
    with (
        TemporaryDirectory() as made,
        sync_playwright() as playwright,
        Stage(make_stage(Path(made))) as stage,
    ):
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=CHROMIUM)
        for size in sizes:
            wide, high = SIZES[size]
            for name, (address, act) in STATES.items():
                context = browser.new_context(
                    viewport={"width": wide, "height": high},
                    **settings.get(theme, {}),  # type: ignore[arg-type]
                )
                page = context.new_page()
                page.goto(f"{stage.address}/{address}")
                page.locator("main, .ask").first.wait_for()
                try:
                    act(page)
                except Exception as error:
                    print(f"{name} at {size}: {str(error).splitlines()[0]}")
                rest(page)
                words = [name.replace(" ", "_").replace(",", ""), size, theme]
                path = folder / ("-".join(filter(None, words)) + ".png")
                page.screenshot(path=path, timeout=60_000)
                context.close()
        browser.close()


if __name__ == "__main__":
    given = sys.argv[2:]
    main(
        Path(sys.argv[1]),
        [word for word in given if word in SIZES] or list(SIZES),
        next((word for word in given if word not in SIZES), ""),
    )
