"""Broken networks, dead browsers, a newer page, a full device, a clock that is wrong: what was
acknowledged is stored, once each, and what was only begun is offered."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Error, Page

from mapper.store.shop import open_shop
from mapper.viewer import build_page
from tests.viewer.conftest import PERSON, Looker, Served, mapper, soon
from tests.viewer.page.hole import Way, behind, device, kill
from tests.viewer.page.states import button, open_part, tool
from tests.viewer.page.test_outbox import begun, keep, notes, unsent

KILLS, EACH = 5, 3


@pytest.fixture
def way(built_page: Path, shop: Path, cache: Path, monkeypatch: Any) -> Iterator[Way]:
    """A server whose network the test breaks."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(cache))
    with behind(shop) as made:
        yield made


def at(way: Way) -> str:
    return f"http://127.0.0.1:{way.port}/"


def places(page: Page, row: int) -> list[tuple[float, float]]:
    """Ten places of a stroke over the flat map, px, in whichever way the two views lie."""
    box = page.locator(".views").bounding_box()
    assert box is not None
    x, y, across = (0.65, 0.5, 0.01) if box["width"] > box["height"] else (0.52, 0.7, 0.02)
    return [
        (box["x"] + box["width"] * (x + across * step), box["y"] + box["height"] * (y + 0.04 * row))
        for step in range(10)
    ]


def begin_stroke(page: Page, row: int = 0) -> None:
    """The brush on the flat map, pressed and moved, and not let go."""
    first, *rest = places(page, row)[:5]
    page.mouse.move(*first)
    page.mouse.down()
    for place in rest:
        page.mouse.move(*place)


def go_on(page: Page, row: int = 0) -> None:
    """The rest of that stroke."""
    for place in places(page, row)[5:]:
        page.mouse.move(*place)
    page.mouse.up()


def sent(page: Page) -> None:
    """Nothing waits any more; what is refused never goes, and is shown at once."""
    soon(lambda: unsent(page) == 0 or page.evaluate(REFUSED))
    assert page.evaluate(REFUSED) == []


REFUSED = """() => airframe.app.outbox.filter((i) => i.state === "refused")
    .map((i) => `${i.words}: ${i.refusal.message}`)"""


def hold(page: Page) -> None:
    """Take the turn of sending, as another tab may have it, until `letGo` or the page's end. (The
    driver's own routes are no use here: what goes by a service worker does not pass them.)"""
    page.evaluate("""() => {
        void navigator.locks.request("airframe-map sending", () => new Promise((done) => {
            window.letGo = done;
        }));
    }""")
    soon(lambda: page.evaluate("() => 'letGo' in window"))


def areas(shop: Path) -> dict[str, float]:
    """Areas of the findings by their notes, as the shop's own file has them."""
    with sqlite3.connect(f"file:{shop / 'shop.sqlite'}?mode=ro", uri=True) as shown:
        rows = [json.loads(body) for (body,) in shown.execute("select body from entry")]
    return {e["note"]: e["outline"]["drawn_area"] for e in rows if e["note"] and e["outline"]}


def test_strokes_go_on_while_the_network_is_gone_and_all_are_sent_once(
    way: Way, shop: Path, look: Looker
) -> None:
    # Wide, so that the two views lie side by side, whichever sheet is open beside them.
    page = look.page(at(way), viewport={"width": 1280, "height": 600})
    begun(page)
    made = []
    for number, mode in enumerate(("shut", "mute", "hole")):
        # Opened anew: a chosen entry has moved the map, and the stroke shall meet it.
        if number > 0:
            button(page, "Airframe")
        open_part(page, "right wing")
        tool(page, "Brush")
        begin_stroke(page, number)
        way.be(mode)  # in mid-stroke
        go_on(page, number)
        page.locator(".kind", has_text="Finding").click()
        page.get_by_label("note").fill(mode)
        button(page, "Done")
        soon(lambda: unsent(page) == 1)
        made.append(mode)
        keep(page, f"more, {mode}")
        made.append(f"more, {mode}")
        soon(lambda: page.evaluate("() => !airframe.app.reached"))
        assert page.get_by_text("All sent", exact=True).count() == 0
        if mode == "hole":
            # What this device has is shown at once: nobody waits for what never answers.
            page.reload()
            begun(page)
            assert unsent(page) == 2
            # What was sent before is there too, though it came after the job was taken along.
            noted = "() => airframe.app.entries().filter((e) => e.note).map((e) => e.note)"
            assert sorted(made) == sorted(page.evaluate(noted))
        way.be("open")
        sent(page)
        assert sorted(notes(shop)) == sorted(made)
        soon(lambda: page.evaluate("() => airframe.app.reached"))
    # The whole stroke is there, and not what was drawn before the break alone.
    found = areas(shop)
    drawn = [found[mode] for mode in ("shut", "mute", "hole")]
    assert min(drawn) > 0.5 * max(drawn)
    with open_shop(shop) as store:
        assert store.verify().sound


def test_a_browser_killed_in_mid_stroke_five_times_loses_and_doubles_nothing(
    chromium: Browser, served: Served, tmp_path: Path
) -> None:
    acknowledged: list[str] = []
    offered = 0
    address = served.address
    for number in range(KILLS + 1):
        context = device(chromium, tmp_path / "device", viewport={"width": 640, "height": 480})
        last = number == KILLS
        page = context.pages[0]
        page.goto(address)
        begun(page)
        # From now on at the part at once, as somebody comes back to it.
        address = served.address + page.evaluate(ADDRESS)
        if number > 0:
            page.get_by_text("Begun and not finished").wait_for()
            offered = page.locator("dialog .waiting-list li").count()
            page.keyboard.press("Escape")
        assert offered == number
        if last:
            sent(page)
            context.close()
            break
        # What waits over a death of the browser, and what is on its way at that moment, in turn.
        if number % 2 == 0:
            hold(page)
        for more in range(EACH):
            keep(page, f"{number}/{more}")
            acknowledged.append(f"{number}/{more}")
        if number == 0:
            open_part(page, "right wing")
        page.locator(".instead").wait_for(state="hidden")
        tool(page, "Brush")
        begin_stroke(page)
        go_on(page)
        soon(lambda shown=page, n=number: shown.evaluate(DRAFTS) == n + 1)
        begin_stroke(page, 2)
        kill(tmp_path / "device")
    found = Counter(notes(served.folder))
    lost = [note for note in acknowledged if not found[note]]
    doubled = [note for note, times in found.items() if times > 1]
    print(
        f"\n{KILLS} kills of the browser in mid-stroke: {len(acknowledged)} acknowledged,"
        f" {len(lost)} lost, {len(doubled)} doubled, {offered} drafts offered"
    )
    assert not lost and not doubled
    assert set(found) == set(acknowledged)  # no draft was sent
    mapper("verify", shop=served.folder)


ADDRESS = "() => `/#part/${airframe.app.book.parts.find((p) => p.code === 'RW-00').id}`"
DRAFTS = "async () => (await airframe.device.drafts()).length"


def test_a_newer_page_is_taken_when_asked_and_nothing_is_lost(
    shop: Path, cache: Path, look: Looker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(cache))
    sources, static = tmp_path / "page", tmp_path / "static"
    shutil.copytree(build_page.PAGE, sources, ignore=shutil.ignore_patterns("node_modules"))
    build_page.install()
    (sources / "node_modules").symlink_to(build_page.PAGE / "node_modules")
    build_page.build(page=sources, static=static)
    with behind(shop, static) as way:
        context = look.context()
        page = look.page(at(way), context)
        begun(page)
        soon(lambda: page.evaluate("() => navigator.serviceWorker.controller !== null"))
        holder = context.new_page()
        holder.goto(f"{at(way)}api/style")
        hold(holder)
        keep(page, "one")
        keep(page, "two")
        first = page.evaluate("() => airframe.app.start.build")
        html = (sources / "index.html").read_text()
        # Not its title, which the page itself writes anew.
        assert "<html " in html
        (sources / "index.html").write_text(html.replace("<html ", '<html data-newer="yes" '))
        assert build_page.build(page=sources, static=static)
        # As the page itself asks every ten minutes.
        page.evaluate("async () => { (await navigator.serviceWorker.ready).update(); }")
        page.get_by_text("A newer page is there.").wait_for()
        assert page.locator("html[data-newer]").count() == 0 and unsent(page) == 2
        keep(page, "three")
        # Nobody is made to take it: over a reload it waits, and is offered again.
        page.reload()
        begun(page)
        page.get_by_text("A newer page is there.").wait_for()
        assert page.locator("html[data-newer]").count() == 0 and unsent(page) == 3
        with page.expect_navigation():
            button(page, "Load it")
        page.locator("html[data-newer]").wait_for(state="attached")
        begun(page)
        assert unsent(page) == 3
        soon(lambda: page.evaluate("() => airframe.app.start.build") != first)
        holder.evaluate("() => window.letGo()")
        sent(page)
    assert notes(shop) == ["one", "two", "three"]


WRONG = """(() => {
  // A device whose clock is two hours ahead until somebody sets it.
  const Right = Date;
  window.ahead = 7200000;
  class Wrong extends Right {
    constructor(...given) { given.length ? super(...given) : super(Right.now() + window.ahead); }
    static now() { return Right.now() + window.ahead; }
  }
  window.Date = Wrong;
})()"""


def test_a_clock_that_is_off_goes_along_and_is_told(way: Way, shop: Path, look: Looker) -> None:
    context = look.context()
    context.add_init_script(WRONG)
    page = look.page(at(way), context)
    begun(page)
    hold(page)
    keep(page, "while it was wrong")
    kept = page.evaluate("() => airframe.app.outbox[0]")
    assert abs(kept["clock_offset_ms"] - 7_200_000) < 60_000
    # The clock is set, and the next answer shows it; what was recorded keeps what held then.
    page.evaluate(
        "async () => { window.ahead = 0; await airframe.device.measure('x', {}).catch(() => 0); }"
    )
    soon(lambda: abs(page.evaluate("() => airframe.app.clockOffset")) < 60_000)
    keep(page, "when it was right")
    page.evaluate("() => window.letGo()")
    sent(page)
    told = page.evaluate("""() => Object.fromEntries(airframe.app.entries()
        .filter((e) => e.note).map((e) => [e.note, e.clock]))""")
    assert told == {"while it was wrong": "device's clock 120 min ahead", "when it was right": ""}
    page.evaluate("""() => {
        location.hash = `#part/${airframe.app.book.parts.find((p) => p.code === 'RW-00').id}`;
    }""")
    page.locator("[data-key='sheet entries']").click()
    page.get_by_label("Search").fill("while it was wrong")
    page.locator(".entries .row-button").click()
    soon(lambda: "device's clock 120 min ahead" in page.locator(".entry-sheet").inner_text())
    assert "device's clock 120 min ahead" in mapper("history", "--csv", shop=shop)


def test_an_outbox_saved_to_a_file_is_taken_in_and_sent_later_all_the_same(
    way: Way, shop: Path, look: Looker, tmp_path: Path
) -> None:
    page = look.page(at(way))
    begun(page)
    way.be("shut")
    soon(lambda: page.evaluate("() => !airframe.app.reached"))
    page.evaluate("() => airframe.device.addPerson('Oden Haraldsen')")
    page.evaluate("""async () => {
        const canvas = new OffscreenCanvas(40, 30);
        canvas.getContext("2d").fillRect(0, 0, 20, 20);
        const file = await canvas.convertToBlob({ type: "image/png" });
        window.photo = await airframe.device.addPhoto(file, new Date().toISOString());
    }""")
    use = {"photo_id": page.evaluate("() => window.photo"), "caption": "pit", "mm_per_pixel": None}
    keep(page, "with a photo", photos=[use])
    keep(page, "taken back")
    soon(lambda: page.evaluate("() => airframe.app.outbox[0].tries > 0"))
    # On its way, as far as the page can know: so it is taken back by a message.
    # In one step: the outbox is read anew at each try.
    page.evaluate("""() => {
        for (const item of airframe.app.outbox) item.tries = 1;
        return airframe.device.undo();
    }""")
    soon(lambda: unsent(page) == 5)
    sorts = page.evaluate("() => airframe.app.outbox.map((i) => i.type)")
    assert sorts == ["person", "photo", "action", "action", "undo"]
    path = tmp_path / "unsent.json"
    path.write_text(page.evaluate("async () => (await airframe.device.outboxFile()).text()"))
    assert "5 items: 5 stored, 0 here already, 0 refused." in mapper(
        "take-in", str(path), shop=shop
    )
    assert "0 stored, 5 here already" in mapper("take-in", str(path), shop=shop)
    way.be("open")
    sent(page)
    assert notes(shop) == ["with a photo"]
    listed = mapper("list", "entries", "--csv", shop=shop)
    assert "Oden Haraldsen" in listed
    # Another device's page reads it too.
    other = look.page(at(way))
    begun(other)
    read = other.evaluate(
        """async (text) => (await airframe.device.readOutboxFile(new Blob([text]), () => {}))
            .map((one) => `${one.words}: ${one.status}`)""",
        path.read_text(),
    )
    assert read[:2] == ["new person Oden Haraldsen: repeated", "photo: repeated"]
    assert [one.split(": ")[-1] for one in read] == ["repeated"] * 5
    said = other.evaluate("""async () => {
        try { await airframe.device.readOutboxFile(new Blob(["{"]), () => {}); return ""; }
        catch (error) { return error.message; }
    }""")
    assert "no file of unsent entries" in said


# The browser looks at its quota at its leisure, so a full device is played: what is thrown away
# makes as much room, and what has none is refused as the browser refuses it.
FULL = """(() => {
  const { add, delete: drop } = IDBObjectStore.prototype;
  const { delete: clear } = Cache.prototype;
  window.room = Infinity;
  IDBObjectStore.prototype.add = function (value) {
    const size = value.photo?.data.size ?? 100000;
    if (size > window.room) throw new DOMException("full", "QuotaExceededError");
    window.room -= size;
    return add.call(this, value);
  };
  IDBObjectStore.prototype.delete = function (key) {
    if (key === "ballast") window.room += 8e6;
    return drop.call(this, key);
  };
  Cache.prototype.delete = function (...given) {
    window.room += 3e6;
    return clear.apply(this, given);
  };
})()"""
TRY = """async (size) => {
    const file = new Blob([new Uint8Array(size)]);
    try { await airframe.device.addPhoto(file, ""); return ""; }
    catch (error) { return error.message; }
}"""


def test_a_full_device_keeps_entries_and_says_what_has_no_room(
    served: Served, look: Looker
) -> None:
    context = look.context()
    context.add_init_script(FULL)
    page = look.page(served.address, context)
    begun(page)
    hold(page)
    page.evaluate("""async () => {
        const kept = await caches.open("airframe-map lasting");
        for (const request of await kept.keys()) await kept.delete(request);
        await kept.put("/api/photos/" + "0".repeat(64), new Response("a photo"));
    }""")
    soon(lambda: page.evaluate("async () => (await navigator.storage.estimate()).usage") > 8e6)
    page.evaluate("() => { window.room = 0; }")
    # A photo that the server has gives way to one that it has not; a second one has no room.
    assert page.evaluate(TRY, 2_500_000) == ""
    said = page.evaluate(TRY, 5_000_000)
    assert "no room left on this device for the photo" in said and "save it to a file" in said
    assert unsent(page) == 1
    # Entries have: some in what is left, and the others in what was kept for them.
    for number in range(8):
        keep(page, f"no. {number}")
    page.get_by_text("This device is nearly full.").wait_for()
    assert unsent(page) == 9
    page.evaluate("() => { window.room = 0; }")
    with pytest.raises(Error, match="no room left on this device"):
        keep(page, "one too many")
    page.evaluate("() => window.letGo()")
    soon(lambda: len(notes(served.folder)) == 8)


def test_a_window_that_keeps_nothing_says_so_and_records_nothing(
    served: Served, look: Looker
) -> None:
    context = look.context()
    context.add_init_script(
        "IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError'); }"
    )
    page = look.page(served.address, context)
    page.get_by_text("This window of the browser keeps nothing").wait_for()
    assert page.get_by_role("button", name=PERSON).count() == 0
    assert page.get_by_role("button", name="Load again").is_visible()
