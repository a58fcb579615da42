"""What is recorded on a device reaches the server once, whatever happens between."""

from __future__ import annotations

import signal
import sqlite3
import threading
import uuid
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.viewer.conftest import PART, PERSON, Looker, Served, mapper, soon


def begun(page: Page) -> None:
    """Waits until the page has its device and somebody records."""
    soon(lambda: page.evaluate("() => 'airframe' in window && airframe.app.book !== null"))
    page.evaluate("""async (name) => {
        const { app, device } = airframe;
        const one = app.start.people.find((p) => p.name === name);
        await (one ? device.setWho(one.id) : device.addPerson(name));
    }""", PERSON)  # fmt: skip


def keep(page: Page, note: str, **entry: Any) -> None:
    """One finding with a stroke, kept on the device as the page's forms do."""
    page.evaluate(KEEP, [PART, note, str(uuid.uuid4()), entry])


KEEP = """async ([code, note, id, more]) => {
    const { app, device } = airframe;
    const part = app.book.parts.find((p) => p.code === code);
    const { skin, face } = app.book.entries.find((e) => e.outline).outline;
    const points = [[400, 300], [460, 300]];
    const where = { skin, face, shapes: [{ op: "add", type: "stroke", points, radius: 15 }] };
    const entry = {
        id, part_id: part.id, kind: "finding", version: 0, where, place: "", state: "open",
        values: { what: "corrosion" }, deferred_to: null, note, photos: [], ...more,
    };
    await device.keep({ words: `new finding ${note}`, steps: [{ op: "add", entry }] });
}"""


# Nothing is looked at here, and a picture of few pixels is drawn in less time.
SMALL: dict[str, Any] = {"viewport": {"width": 320, "height": 320}}
TAKE_THE_TURN = """() => {
    const hold = () => new Promise(() => { window.turnTaken = true; });
    void navigator.locks.request("airframe-map sending", hold);
}"""


def notes(shop: Path) -> list[str]:
    """Notes of the findings that the shop has, read by the command line's own store."""
    with sqlite3.connect(f"file:{shop / 'shop.sqlite'}?mode=ro", uri=True) as shown:
        rows = shown.execute("select json_extract(body, '$.note') from entry").fetchall()
    return [note for (note,) in rows if note]


def unsent(page: Page) -> int:
    return int(page.evaluate("() => airframe.app.outbox.length"))


def test_an_entry_is_sent_and_comes_back_with_its_true_area(served: Served, look: Looker) -> None:
    page = look.page(served.address, **SMALL)
    begun(page)
    keep(page, "first")
    soon(lambda: unsent(page) == 0)
    assert notes(served.folder) == ["first"]
    [area, words] = page.evaluate("""() => {
        const e = airframe.app.entries().find((e) => e.note === "first");
        return [e.outline.area_mm2, e.outline.area_words];
    }""")  # fmt: skip
    # A stroke of 60 mm and radius 15 on a nearly flat place: a stadium (closed form).
    assert area == pytest.approx(60 * 30 + 3.14159265 * 15**2, rel=2e-3)
    assert words
    assert "first" in mapper("list", "entries", "--csv", shop=served.folder)


def test_while_the_server_is_down_it_waits_also_over_a_reload(served: Served, look: Looker) -> None:
    page = look.page(served.address, **SMALL)
    begun(page)
    soon(lambda: page.evaluate("() => navigator.serviceWorker.controller !== null"))
    served.kill()
    keep(page, "in the outage")
    soon(lambda: page.evaluate("() => !airframe.app.reached"))
    assert unsent(page) == 1
    page.reload()
    begun(page)
    assert unsent(page) == 1
    shown = page.evaluate("() => airframe.app.entries().filter((e) => e.unsent).map((e) => e.note)")
    assert shown == ["in the outage"]
    keep(page, "after the reload")
    served.start()
    soon(lambda: unsent(page) == 0)
    assert notes(served.folder) == ["in the outage", "after the reload"]


def test_a_lost_answer_makes_no_second_entry(served: Served, look: Looker) -> None:
    context = look.context(**SMALL)
    page = look.page(served.address, context)
    begun(page)
    swallow(context, served, times=2)
    keep(page, "once")
    soon(lambda: unsent(page) == 0)
    assert notes(served.folder) == ["once"]


def swallow(context: BrowserContext, served: Served, times: int) -> None:
    """The server gets the action, and the way back breaks."""
    left = [times]

    def handle(route: Any) -> None:
        if left[0] > 0 and route.request.url.endswith("/actions"):
            left[0] -= 1
            route.fetch()
            route.abort("connectionreset")
        else:
            route.continue_()

    context.route("**/api/jobs/*/actions", handle)


def test_what_the_server_refuses_stays_and_the_next_goes_on(served: Served, look: Looker) -> None:
    page = look.page(served.address, **SMALL)
    begun(page)
    keep(page, "refused", values={"what": "corrosion", "depth_found": "-3 mm"})
    keep(page, "taken")
    soon(lambda: unsent(page) == 1)
    [state, words] = page.evaluate(
        "() => [airframe.app.outbox[0].state, airframe.app.outbox[0].refusal.message]"
    )
    assert state == "refused"
    assert "-3" in words
    soon(lambda: notes(served.folder) == ["taken"])
    page.reload()
    begun(page)
    assert page.evaluate("() => airframe.app.outbox[0].state") == "refused"
    page.evaluate("() => airframe.device.drop(airframe.app.outbox[0])")
    soon(lambda: unsent(page) == 0)


def test_undo_before_and_after_sending_and_redo_after_a_reload(
    served: Served, look: Looker
) -> None:
    context = look.context(**SMALL)
    page = look.page(served.address, context)
    begun(page)
    keep(page, "sent")
    soon(lambda: notes(served.folder) == ["sent"] and unsent(page) == 0)
    page.evaluate("() => airframe.device.undo()")
    soon(lambda: notes(served.folder) == [] and unsent(page) == 0)
    page.evaluate("() => airframe.device.redo()")
    # Answered too: what was on its way when the server went would wait here.
    soon(lambda: notes(served.folder) == ["sent"] and unsent(page) == 0)
    soon(lambda: page.evaluate("() => navigator.serviceWorker.controller !== null"))
    served.kill()
    soon(lambda: page.evaluate("() => !airframe.app.reached"))
    # Whatever is tried once may have arrived; this one is never on its way, because
    # another tab has the turn of sending.
    page.evaluate(TAKE_THE_TURN)
    soon(lambda: page.evaluate("() => 'turnTaken' in window"))
    keep(page, "waiting")
    page.evaluate("() => airframe.device.undo()")
    assert unsent(page) == 0
    page.reload()
    begun(page)
    assert page.evaluate("() => airframe.device.wouldRedo()") == "new finding waiting"
    page.evaluate("() => airframe.device.redo()")
    served.start()
    soon(lambda: sorted(notes(served.folder)) == ["sent", "waiting"])


def test_what_others_record_appears_by_itself(served: Served, look: Looker) -> None:
    """How soon it appears is measured by the bench."""
    one, other = look.page(served.address, **SMALL), look.page(served.address, **SMALL)
    begun(one)
    begun(other)
    soon(lambda: other.evaluate("() => airframe.app.reached"))
    keep(one, "seen by the other")
    soon(lambda: unsent(one) == 0)
    soon(lambda: has(other, "seen by the other"))
    mapper("add", "entry", "finding", PART, "--point", "1300 40", "--side", "upper",
           "--note", "by the command line", shop=served.folder)  # fmt: skip
    soon(lambda: has(one, "by the command line"))


def has(page: Page, note: str) -> bool:
    return bool(page.evaluate("(n) => airframe.app.entries().some((e) => e.note === n)", note))


def test_a_photo_goes_before_its_entry(served: Served, look: Looker) -> None:
    page = look.page(served.address, **SMALL)
    begun(page)
    page.evaluate("""async () => {
        const canvas = new OffscreenCanvas(40, 30);
        canvas.getContext("2d").fillRect(0, 0, 20, 20);
        const file = await canvas.convertToBlob({ type: "image/png" });
        window.photo = await airframe.device.addPhoto(file, new Date().toISOString());
    }""")  # fmt: skip
    photo = page.evaluate("() => window.photo")
    keep(page, "with a photo",
         photos=[{"photo_id": photo, "caption": "pit", "mm_per_pixel": None}])  # fmt: skip
    soon(lambda: unsent(page) == 0)
    href = page.evaluate(
        "() => airframe.app.entries().find((e) => e.note === 'with a photo').photos[0].href"
    )
    assert len(served.get(href)) > 50
    assert "pit" in mapper("list", "photos", "--csv", shop=served.folder)


def test_a_server_killed_again_and_again_loses_and_doubles_nothing(
    served: Served, look: Looker
) -> None:
    page = look.page(served.address, **SMALL)
    begun(page)
    failed: list[BaseException] = []

    def killing() -> None:
        # Each time when some more have arrived, so that there is something to lose.
        try:
            for number in range(4):
                soon(lambda more=3 * number + 1: len(notes(served.folder)) >= more)
                served.kill()
                served.start()
        except BaseException as error:
            failed.append(error)

    killer = threading.Thread(target=killing)
    killer.start()
    made = 0
    while killer.is_alive():
        # Not many more than arrive: what waits is sent one by one.
        if made < len(notes(served.folder)) + 6:
            made += 1
            keep(page, f"no. {made}")
        page.wait_for_timeout(60)
    killer.join()
    assert not failed, failed
    soon(lambda: unsent(page) == 0)
    assert sorted(notes(served.folder)) == sorted(f"no. {i + 1}" for i in range(made))
    mapper("verify", shop=served.folder)


def test_as_typed_no_request_leaves_this_machine_and_ctrl_c_ends_it(
    served_as_typed: Served, look: Looker
) -> None:
    served = served_as_typed
    context = look.context(**SMALL)
    elsewhere: list[str] = []
    context.on("request", lambda r: None if r.url.startswith((served.address, "blob:", "data:"))
               else elsewhere.append(r.url))  # fmt: skip
    page = look.page(served.address, context)
    begun(page)
    keep(page, "at home")
    soon(lambda: unsent(page) == 0)
    assert elsewhere == []
    # The page listens; still it ends in words fit for people, that is none.
    assert served.end(signal.SIGINT) == 130  # as shells have it for Ctrl-C
    assert "Traceback" not in served.complained
    soon(lambda: page.evaluate("() => !airframe.app.reached"))
