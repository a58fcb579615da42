"""The stage: forms and lists over an invented job, served with the strict policy of the page.

`make_stage(folder)` bundles `stage.ts` with the page's own sources; `Stage` serves it from memory.
The table of fields, the cautions and the style tokens are the program's own.
"""

from __future__ import annotations

import functools
import http.server
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

import pytest
from playwright.sync_api import Page

from mapper.job.records import Person, Shop
from mapper.viewer import build_page
from mapper.viewer.server.fields import fields_of
from tests.viewer.conftest import Looker

HERE = Path(__file__).parent
STYLE = Path(build_page.HERE).parent / "drawing" / "style.json"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:;"
    " connect-src 'self'; worker-src 'self'; manifest-src 'self'; font-src 'self';"
    " base-uri 'none'; form-action 'none'; frame-ancestors 'none';"
    " require-trusted-types-for 'script'"
)
# Drawn by the processor, the pictures of the views cost most of a test's time. Nobody looks at
# their pixels here: there are a quarter as many each way, and everything else is as it was.
COARSE = "Object.defineProperty(window, 'devicePixelRatio', { get: () => 0.25 })"
MARA, ODEN = "00000000-0000-4000-8000-000000000001", "00000000-0000-4000-8000-000000000002"
JOB = "00000000-0000-4000-8000-00000000000a"


def part(number: int, name: str, code: str, assembly: str, **more: Any) -> dict[str, Any]:
    """A part as the wire has it."""
    return {
        "id": f"part-{number}",
        "name": name,
        "code": code,
        "assembly_id": assembly,
        "note": "",
        "shape": f"{number:064x}",
        "mirror_id": "",
        "removed": False,
        "kept_at": "",
        "area_mm2": 480000.0,
        "tolerance_percent": 2.0,
        "faces_mm2": 480000.0,
        "stripped_mm2": 0.0,
        "inspected_mm2": 0.0,
        "open_findings": 0,
        "inner": False,
        **more,
    }


def outline(x: float, y: float, size: float, words: str) -> dict[str, Any]:
    """A square outline on the skin of a plate."""
    ring = [[x, y], [x + size, y], [x + size, y + size], [x, y + size]]
    return {
        "skin": "skin",
        "face": "outer",
        "region": "area",
        "shape": f"{1:064x}",
        "polygons": [[ring]],
        "area_mm2": size * size,
        "area_words": words,
    }


def entry(number: int, kind: str, title: str, day: str, **more: Any) -> dict[str, Any]:
    """An entry as the wire has it."""
    return {
        "id": f"entry-{number}",
        "part_id": "part-1",
        "kind": kind,
        "version": 1,
        "state": "open",
        "deferred_to": None,
        "note": "",
        "by": MARA,
        "by_name": "Mara Tolvik",
        "device_time": f"{day}T10:15:00+02:00",
        "server_time": f"{day}T10:15:01+02:00",
        "outline": None,
        "place": "",
        "where": "station 1 500 mm, 30.0 % chord, upper",
        "title": title,
        "told": {},
        "typed": {},
        "missing": [],
        "photos": [],
        "unconfirmed": False,
        **more,
    }


ENTRIES = [
    entry(
        1,
        "finding",
        "corrosion: pitting",
        "2026-05-04",
        outline=outline(120, 220, 60, "36.0 cm²"),
        typed={"what": "corrosion", "corrosion": "pitting", "depth_found": "0.12 ± 0.02 mm"},
        told={"what": "corrosion", "corrosion": "pitting", "depth_found": "0.12 ± 0.02 mm"},
        missing=["depth_cleaned", "technique"],
    ),
    entry(
        2,
        "inspected area",
        "inspected, glass: findings recorded",
        "2026-05-06",
        outline=outline(20, 60, 300, "900 cm²"),
        typed={"technique": "glass", "inspector": MARA, "result": "findings recorded"},
        told={"technique": "glass", "inspector": MARA, "result": "findings recorded"},
        missing=["date", "findings"],
        state="closed",
    ),
    entry(
        3,
        "masking",
        "tape",
        "2026-05-11",
        outline=outline(380, 40, 90, "81.0 cm²"),
        typed={"protection": "tape"},
        told={"protection": "tape"},
        missing=["on"],
        by=ODEN,
        by_name="Oden Haraldsen",
    ),
    entry(
        4,
        "removed part",
        "landing light",
        "2026-05-12",
        place="nose skin, station 1 820 mm",
        where="nose skin, station 1 820 mm",
        typed={"name": "landing light", "tag_code": "B-017", "where_now": "board 3, hook 12"},
        told={"name": "landing light", "tag_code": "B-017", "where_now": "board 3, hook 12"},
    ),
]


def given(number: int, kind: str, version: int, values: dict[str, str]) -> dict[str, Any]:
    """An entry as the page gives it."""
    return {
        "id": f"entry-{number}",
        "part_id": "part-1",
        "kind": kind,
        "version": version,
        "where": None,
        "place": "rib 7, aft face" if version == 0 else "",
        "values": values,
        "state": "open",
        "deferred_to": None,
        "note": "",
        "photos": [],
    }


def action(words: str, op: str, step: dict[str, Any], **more: Any) -> dict[str, Any]:
    """An item of the outbox."""
    asked = {
        "id": "asked-" + step["id"],
        "by": MARA,
        "words": words,
        "device_time": "2026-05-12T10:15:00+02:00",
        "clock_offset_ms": 0,
        "units": "metric",
        "steps": [{"op": op, "entry": step}],
    }
    return {"type": "action", "words": words, "tries": 2, "action": asked, **more}


def data(units: str = "metric") -> dict[str, Any]:
    """All that the stage begins with."""
    shop = Shop("00000000-0000-4000-8000-00000000000b", "Our shop", units=units)
    people = [Person(MARA, "Mara Tolvik"), Person(ODEN, "Oden Haraldsen")]
    theirs = {
        **ENTRIES[0],
        "version": 2,
        "by_name": "Oden Haraldsen",
        "note": "looked at again with a lamp",
        "typed": {**ENTRIES[0]["typed"], "depth_found": "0.15 ± 0.02 mm", "technique": "eye"},
    }
    changed = given(
        1, "finding", 1, {"what": "corrosion", "depth_found": "0.2", "technique": "glass"}
    )
    stale = action(
        "change of finding on RW-00",
        "change",
        changed,
        state="refused",
        refusal={"code": "stale", "message": "Somebody changed it meanwhile.", "theirs": theirs},
    )
    gone = {**stale, "refusal": {**stale["refusal"], "theirs": None}}
    refused = action(
        "finding on RW-00",
        "add",
        given(21, "finding", 0, {"what": "corrosion", "depth_found": "-1"}),
        state="refused",
        refusal={
            "code": "refused",
            "message": "depth as found: '-1' was given. Allowed: 0 mm to 1000 mm, with or without a"
            " +/- (95 % half-width).",
        },
    )
    shape = {
        **refused,
        "refusal": {"code": "stale", "message": "The shape of this part was corrected since."},
    }
    waiting = action("finding on RW-00", "add", given(20, "finding", 0, {"what": "dent"}))
    draft = {
        "entry": {**given(30, "finding", 0, {"what": "crack"}), "part_id": "part-1"},
        "about_mm2": 2300.0,
        "from": None,
        "begun": "2026-05-12T16:40:00+02:00",
        "job_id": JOB,
        "by": MARA,
    }
    return {
        "start": {
            "shop": {"id": shop.id, "name": shop.name, "units": units},
            "people": [{"id": p.id, "name": p.name} for p in people],
            "jobs": [
                {
                    "id": JOB,
                    "name": "Wing, no. 17",
                    "airframe": "two-seater",
                    "owner": "Whoever pays",
                },
                {"id": JOB[:-1] + "c", "name": "Tail, no. 4", "airframe": "", "owner": "Another"},
            ],
            "token": "t",
            "server_time": "2026-05-12T16:40:00+02:00",
            "build": "b",
            "photo_bytes_most": 30_000_000,
            "body_bytes_most": 40_000_000,
        },
        "fields": fields_of(shop).model_dump(),
        "style": json.loads(STYLE.read_text()),
        "book": {
            "job": {"id": JOB, "name": "Wing, no. 17", "airframe": "two-seater", "owner": "-"},
            "assemblies": [{"id": "a1", "name": "right wing"}, {"id": "a2", "name": "left wing"}],
            "parts": [
                part(
                    1,
                    "right outer wing",
                    "RW-00",
                    "a1",
                    mirror_id="part-2",
                    stripped_mm2=190000.0,
                    inspected_mm2=90000.0,
                    open_findings=1,
                ),
                part(2, "left outer wing", "LW-00", "a2", mirror_id="part-1"),
                part(3, "right aileron", "RA-01", "a1", removed=True, kept_at="rack 2, shelf B"),
                part(4, "rib 7", "RW-R07", "a1", inner=True, stripped_mm2=480000.0),
                part(5, "pitot bracket", "RW-P1", "a1", shape="", area_mm2=0.0, faces_mm2=0.0),
            ],
            "entries": ENTRIES,
            "references": {
                "lot": [{"id": "lot-1", "words": "gel stripper, lot 5521"}],
                "finish system": [{"id": "fs-1", "words": "two enamels on zinc primer"}],
            },
            "seq": 12,
            "head": "0" * 64,
        },
        "outbox": {
            "waiting": [waiting],
            "refused": [refused, waiting],
            "stale": [stale],
            "gone": [gone],
            "shape": [shape],
        },
        "drafts": {"one": [draft]},
        "last": {"inspected area": {"technique": "glass", "inspector": MARA, "light": "head lamp"}},
    }


def make_stage(folder: Path) -> Path:
    """Bundle the stage and the page's look into a folder."""
    build_page.install()
    build_page.esbuild(build_page.PAGE, str(HERE / "stage.ts"), folder)
    build_page.esbuild(build_page.PAGE, "page.css", folder)
    html = (build_page.PAGE / "index.html").read_text()
    html = html.replace("/static/page.js", "/stage.js").replace("/static/page.css", "/page.css")
    (folder / "index.html").write_text(html)
    return folder


class Stage:
    """Serves a made stage on a free port while it is open."""

    def __init__(self, folder: Path, units: str = "metric") -> None:
        self.folder = folder
        answer = json.dumps(data(units)).encode()

        class Handler(http.server.SimpleHTTPRequestHandler):
            def end_headers(self) -> None:
                self.send_header("Content-Security-Policy", POLICY)
                super().end_headers()

            def do_GET(self) -> None:
                if self.path.startswith("/data.json"):
                    self.send_response(200)
                    self.send_header("Content-Type", "application/json")
                    self.end_headers()
                    self.wfile.write(answer)
                elif self.path.startswith("/static/"):
                    self.send_response(204)
                    self.end_headers()
                else:
                    super().do_GET()

            def log_message(self, format: str, *args: Any) -> None:
                pass

        handler = functools.partial(Handler, directory=str(folder))
        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
        self.address = f"http://127.0.0.1:{self.server.server_port}"

    def __enter__(self) -> Stage:
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.server.shutdown()
        self.server.server_close()


@pytest.fixture(scope="session")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    """The stage of a metric shop, served for all tests."""
    with Stage(make_stage(tmp_path_factory.mktemp("stage"))) as made:
        yield made


@pytest.fixture
def act(stage: Stage, look: Looker) -> Callable[..., Page]:
    """Open the stage: act("?net=off", width=320) gives its page."""

    def opened(address: str = "", **settings: Any) -> Page:
        context = look.context(**settings)
        context.add_init_script(COARSE)
        page = look.page(f"{stage.address}/{address}", context)
        page.locator("main, .ask").first.wait_for()
        return page

    return opened


@pytest.fixture(scope="session")
def stage_inch(stage: Stage) -> Iterator[str]:
    """Address of the stage of a shop that works in inches."""
    with Stage(stage.folder, "inch") as made:
        yield made.address
