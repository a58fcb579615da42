"""A job as the page takes it along: the book, what changed since, parts at a glance, bytes of
shapes; each number and word beside the function it must come from."""

from __future__ import annotations

import json
import struct
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from mapper.drawing.frame import Frame
from mapper.drawing.ground import grid_lines
from mapper.estimate.ledger import ledger
from mapper.job.entry import Place
from mapper.job.kinds import KINDS
from mapper.job.outlines import new_entry, sheet_area
from mapper.job.records import Job, Lot, Part, Person
from mapper.store.shop import open_shop
from mapper.surface.place import place_of, space_of
from mapper.surface.region import on_sheet, openings_of, whole
from mapper.units import Units
from mapper.viewer.server import live as lives
from mapper.viewer.server.shapes import MAGIC, shape_bytes
from tests.viewer.server.conftest import Say
from tests.viewer.server.talk import (
    ANN,
    BARE,
    BEN,
    JOB,
    LEFT,
    RIGHT,
    action,
    again,
    box,
    entry,
    stroke,
    where,
)

Book = Callable[[], Any]
PATIENCE = 60.0  # seconds for the helper, which may have to start on a busy machine


def test_the_start_says_who_and_what(page: Any, app: Any) -> None:
    start = page.get("/api/start").json()
    assert start["shop"] == {"id": "shop-1", "name": "Field shop", "units": "metric"}
    assert [p["name"] for p in start["people"]] == ["Ann", "Ben"]
    assert [j["id"] for j in start["jobs"]] == [JOB]
    assert start["token"] == app.state.token
    assert start["photo_bytes_most"] > 10_000_000


def test_the_forms_come_from_the_one_table(page: Any) -> None:
    fields = page.get("/api/fields").json()
    assert [k["name"] for k in fields["kinds"]] == list(KINDS)
    finding = next(k for k in fields["kinds"] if k["name"] == "finding")
    depth = next(f for f in finding["fields"] if f["name"] == "depth_found")
    assert (depth["unit"], depth["most"], depth["type"]) == ("mm", 1000, "measured")
    assert any("licensed" in c["text"] for c in finding["cautions"])
    assert fields["units"]["mm2"] == {"label": "m²", "factor": 1e-6, "digits": 3}


def test_an_inch_shop_gets_inches(page: Any, shop: Path, say: Say, book: Book) -> None:
    say("actions", action(entry(values={"what": "dent", "length": "25.4 mm"})))
    with open_shop(shop) as store, store.act(ANN, "inches") as act:
        act.change(type(store.shop())(**{**store.shop().__dict__, "units": "inch"}))
    fields = page.get("/api/fields").json()
    finding = next(k for k in fields["kinds"] if k["name"] == "finding")
    depth = next(f for f in finding["fields"] if f["name"] == "depth_found")
    assert (depth["unit"], round(depth["most"], 4)) == ("in", round(1000 / 25.4, 4))
    (view,) = book()["entries"]
    assert view["typed"]["length"] == "1 in"


def test_changes_tell_what_came_after_a_row(page: Any, say: Say, book: Book) -> None:
    before = book()
    (kept,) = say("actions", action(entry(note="stays")))["changes"]["entries"]
    (gone,) = say("actions", action(entry(note="goes")))["changes"]["entries"]
    say("actions", action(again(gone), op="remove"))
    page.post("/api/people", json={"id": "p-3", "name": "Cy"})
    since = page.get(f"/api/jobs/{JOB}/changes?after={before['seq']}").json()
    assert since["entries"] == [kept] and since["removed"] == [gone["id"]]
    assert [p["name"] for p in since["people"]] == ["Cy"] and not since["again"]
    assert [p["id"] for p in since["parts"]] == [RIGHT]
    assert since["parts"][0]["open_findings"] == 1
    now = book()
    assert (since["seq"], since["head"]) == (now["seq"], now["head"])
    nothing = page.get(f"/api/jobs/{JOB}/changes?after={now['seq']}").json()
    assert nothing["entries"] == nothing["removed"] == nothing["parts"] == []


@pytest.mark.parametrize("after", [-1, 10**9])
def test_a_row_of_another_history_is_answered_with_the_whole_book(page: Any, after: int) -> None:
    assert page.get(f"/api/jobs/{JOB}/changes?after={after}").json()["again"]


def test_much_at_once_is_a_whole_book(
    page: Any, say: Say, book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    seq = book()["seq"]
    say("actions", action(*[entry() for _ in range(8)]))
    monkeypatch.setattr(lives, "MOST_ROWS", 5)
    assert page.get(f"/api/jobs/{JOB}/changes?after={seq}").json()["again"]
    assert len(book()["entries"]) == 8


def test_what_is_stored_while_rows_are_read_is_not_passed_over(
    app: Any, say: Say, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = app.state.room
    live = room.live(JOB)
    with open_shop(shop) as store:
        with store.act(ANN, "another job") as act:
            act.add(Job("job-2", "Another"))
        said = entry()
        rows_after = lives.rows_after

        def slow(*given: Any) -> Any:
            rows = rows_after(*given)
            monkeypatch.setattr(lives, "rows_after", rows_after)
            book = store.book(JOB)
            with store.act(BEN, "just now") as act:
                place = Place("near rib 3")
                act.add(new_entry(book, RIGHT, "finding", place=place, entry_id=said["id"]))
            return rows

        monkeypatch.setattr(lives, "rows_after", slow)
        live.catch_up()
    live.catch_up()
    assert said["id"] in live.entries


def test_what_stands_in_every_entry_makes_the_book_new(
    page: Any, shop: Path, say: Say, book: Book
) -> None:
    say("actions", action(entry()))
    seq = book()["seq"]
    with open_shop(shop) as store, store.act(ANN, "stripper came") as act:
        act.add(Lot("lot-1", "gel stripper", "B-7"))
        act.change(Person(ANN, "Ann Marlow", version=1))
    assert page.get(f"/api/jobs/{JOB}/changes?after={seq}").json()["again"]
    now = book()
    assert now["entries"][0]["by_name"] == "Ann Marlow"
    assert now["references"]["lot"] == [{"id": "lot-1", "words": "gel stripper B-7"}]


def test_a_new_name_alone_is_told_with_its_entries_words(
    page: Any, shop: Path, say: Say, book: Book
) -> None:
    say("actions", action(entry()))
    assert book()["entries"][0]["by_name"] == "Ann"
    with open_shop(shop) as store, store.act(ANN, "married") as act:
        act.change(Person(ANN, "Ann Marlow", version=1))
    assert book()["entries"][0]["by_name"] == "Ann Marlow"


def test_parts_taken_off_are_found_by_their_tag(say: Say, book: Book) -> None:
    values = {"name": "control column", "tag_code": "cc-00", "where_now": "board 2, hook 4"}
    off = entry(kind="removed part", values=values, part_id=BARE, place="cockpit")
    (view,) = say("actions", action(off))["changes"]["entries"]
    part = next(p for p in book()["parts"] if p["id"] == BARE)
    assert (part["removed"], part["kept_at"], part["shape"]) == (True, "board 2, hook 4", "")
    say("actions", action(again(view, state="closed"), op="change"))
    part = next(p for p in book()["parts"] if p["id"] == BARE)
    assert (part["removed"], part["kept_at"]) == (False, "")


def test_parts_at_a_glance_come_from_the_ledger(
    page: Any, say: Say, shop: Path, book: Book
) -> None:
    looked = entry(
        kind="inspected area", values={"technique": "glass"}, where=where(box((1400, 1700)))
    )
    say("actions", action(looked))
    give_up = time.monotonic() + PATIENCE
    while True:
        part = next(p for p in book()["parts"] if p["id"] == RIGHT)
        if part["inspected_mm2"] and part["mirror_id"]:
            break
        assert time.monotonic() < give_up, part
        time.sleep(0.2)
    with open_shop(shop) as store:
        kept = store.book(JOB)
        table = ledger(kept, RIGHT)
        geometry = kept.geometry_of(RIGHT)
    assert part["inspected_mm2"] == table["inspected_mm2"].sum()
    assert part["faces_mm2"] == table["area_mm2"].sum()
    assert part["area_mm2"] == sheet_area(geometry, "skin")
    assert part["tolerance_percent"] == geometry.tolerance.percent
    assert part["mirror_id"] == LEFT and not part["inner"]
    mate = next(p for p in book()["parts"] if p["id"] == LEFT)
    assert mate["mirror_id"] in ("", RIGHT)


# -- bytes of a shape


@pytest.fixture
def wing(shop: Path) -> Any:
    with open_shop(shop) as store:
        return store.book(JOB).geometry_of(RIGHT)


def read(data: bytes) -> tuple[Any, Callable[[Any, str], Any]]:
    """Header, and a reader of its arrays, as the page reads them."""
    assert data[:8] == MAGIC
    (size,) = struct.unpack("<I", data[8:12])
    header = json.loads(data[12 : 12 + size])
    first = 12 + size + -(12 + size) % 4

    def array(at: Any, kind: str) -> Any:
        return np.frombuffer(data, kind, at["count"], first + at["at"])

    return header, array


def test_a_shape_has_the_arrays_of_its_skin(wing: Any) -> None:
    header, array = read(shape_bytes(wing, "metric"))
    (told,), (skin,) = header["skins"], wing.skins
    points = array(told["points"], "<f4").reshape(-1, 3) + np.array(header["origin"])
    flat = array(told["flat"], "<f4").reshape(-1, 2) + np.array(told["flat_origin"])
    triangles = array(told["triangles"], "<u4").reshape(-1, 3)
    assert triangles.max() < len(points) == len(flat)
    # The exact surface, in the aircraft's frame, at the flat places: to single precision, and at
    # the cut corners of openings to the triangles' own sagitta.
    placed = wing.placement.origin + space_of(skin, flat) @ wing.placement.rotation.T
    away = np.linalg.norm(placed - points, axis=1)
    own = len(skin.flat)
    assert np.nanmax(away[:own]) < 2e-3 and np.nanmax(away) < 2.0
    where_ = place_of(skin, flat)
    known = np.isfinite(where_.station)
    assert known.mean() > 0.95
    np.testing.assert_allclose(
        array(told["station"], "<f4")[known], where_.station[known], atol=0.05
    )
    chord = array(told["chord"], "<f4")[:own]
    np.testing.assert_allclose(np.abs(chord), skin.chord, atol=1e-3)
    middle = known[:own] & (skin.chord > 1) & (skin.chord < 99)
    assert np.array_equal(chord[middle] > 0, where_.upper[:own][middle])


def test_no_triangle_lies_in_an_opening_and_none_is_missing(wing: Any) -> None:
    header, array = read(shape_bytes(wing, "metric"))
    (told,), (skin,) = header["skins"], wing.skins
    flat = array(told["flat"], "<f4").reshape(-1, 2).astype(float) + np.array(told["flat_origin"])
    corners = flat[array(told["triangles"], "<u4").reshape(-1, 3)]
    drawn = shapely.polygons(corners)
    holes = openings_of(wing, "skin")
    assert shapely.area(shapely.intersection(drawn, holes)).sum() < 1e-3 * holes.area
    mesh = shapely.area(shapely.polygons(skin.flat[skin.triangles])).sum()
    inside = shapely.area(
        shapely.intersection(shapely.polygons(skin.flat[skin.triangles]), holes)
    ).sum()
    assert shapely.area(drawn).sum() == pytest.approx(mesh - inside, rel=1e-5)
    # Counter-clockwise on the flat map, as the skin's own.
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    assert (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] > 0).mean() > 0.999
    # Flat area times stretch is true area.
    stretch = array(told["stretch"], "<f4")
    assert (shapely.area(drawn) * stretch).sum() == pytest.approx(
        sheet_area(wing, "skin"), rel=1e-3
    )


def test_lines_grid_and_pieces_are_those_of_the_drawing(wing: Any) -> None:
    header, _ = read(shape_bytes(wing, "inch"))
    (told,) = header["skins"]
    assert {(x["kind"], x["name"]) for x in told["lines"]} == {
        (x.kind, x.name) for x in wing.lines if x.skin == "skin" and not x.flat.is_empty
    }
    assert [p["name"] for p in told["panels"]] == [p.name for p in wing.panels]
    assert [p["name"] for p in told["bays"]] == [p.name for p in wing.bays]
    assert [p["name"] for p in told["openings"]] == [p.name for p in wing.openings]
    assert {row["label"][-3:] for row in told["grid"]["stations"]} == {" in"}
    assert all(row["label"].endswith("%") for row in told["grid"]["chord"])
    labels = [row["label"] for row in (*told["grid"]["stations"], *told["grid"]["chord"])]
    frame = Frame(wing, wing.skins[0], "outer", None, "inch", (180.0, 150.0), None)
    assert labels == [label for label, _ in grid_lines(frame)]
    sheet = shapely.union_all([shapely.Polygon(p[0], p[1:]) for p in told["sheet"]])
    exact = on_sheet(wing, "skin", whole(wing.skins[0]))
    assert sheet.symmetric_difference(exact).area < 1e-4 * exact.area
    assert told["area_mm2"] == sheet_area(wing, "skin")
    assert told["view"] == [frame.view.x, frame.view.y]
    np.testing.assert_allclose(
        [np.hypot(*told["outboard"]), np.hypot(*told["forward"])], 1, atol=1e-5
    )
    assert told["outboard"][0] > 0.99 and (told["round"], told["has_chord"]) == (False, True)


def test_a_shape_is_made_once_and_never_changes(page: Any, book: Book, app: Any) -> None:
    digest = next(p["shape"] for p in book()["parts"] if p["id"] == RIGHT)
    first = page.get(f"/api/shapes/{digest}", headers={"accept-encoding": "gzip"})
    assert "immutable" in first.headers["cache-control"]
    assert first.headers["content-encoding"] == "gzip"
    read(first.content)
    app.state.room.helper.close()  # it is not asked again, not by a new server either
    plain = page.get(f"/api/shapes/{digest}", headers={"accept-encoding": "identity"})
    assert plain.content == first.content and "content-encoding" not in plain.headers
    app.state.room._packed.clear()
    assert page.get(f"/api/shapes/{digest}").content == first.content
    inches = page.get(f"/api/shapes/{digest}?units=inch")
    assert (inches.status_code, inches.json()["code"]) == (503, "busy")


def test_an_outline_is_drawn_as_stored(say: Say, shop: Path) -> None:
    said = entry(where=where(stroke((600, 300), (700, 320))))
    (view,) = say("actions", action(said, by=BEN))["changes"]["entries"]
    with open_shop(shop) as store:
        stored = store.book(JOB).entry(said["id"]).outline
        part = store.find(Part, RIGHT)
    rings = view["outline"]["polygons"]
    drawn = shapely.MultiPolygon([(p[0], p[1:]) for p in rings])
    assert drawn.hausdorff_distance(stored.shape) < 0.01
    assert drawn.symmetric_difference(stored.shape).area < 1e-3 * stored.shape.area
    assert view["outline"]["shape"] == part.geometry
    assert view["outline"]["area_words"] == Units("metric").show(stored.drawn_area, "mm2")
