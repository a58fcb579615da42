"""What a person records arrives once, as typed and drawn, or is refused with the whole reason."""

from __future__ import annotations

from typing import Any

import pytest

from mapper.job import telling
from mapper.job.outlines import new_entry, outline_of
from mapper.job.partfile.select import Selection, selected
from mapper.job.values import missing
from mapper.store.shop import open_shop
from mapper.units import Units
from tests.viewer.server.talk import (
    ANN,
    BARE,
    BEN,
    JOB,
    RIGHT,
    action,
    again,
    box,
    entry,
    new_id,
    stroke,
    undo,
    where,
)


def test_a_finding_is_stored_as_the_command_line_stores_it(say: Any, shop: Any, book: Any) -> None:
    said = entry(
        where=where(box((1400, 1700), (10, 20))),
        values={"what": "corrosion", "corrosion": "pitting", "depth_found": "0.12 +/- 0.02 mm"},
        note="along the rivets",
    )
    answer = say("actions", action(said))
    assert answer["status"] == "stored"
    (view,) = answer["changes"]["entries"]
    with open_shop(shop) as store:
        kept = store.book(JOB)
        stored = kept.entry(said["id"])
        geometry = kept.geometry_of(RIGHT)
        # The same through the functions of `mapper add entry`, from nothing.
        asked = Selection(skin="skin", stations=(1400, 1700), chord=(10, 20), side="upper")
        outline = outline_of(geometry, "skin", "outer", selected(geometry, asked))
        made = new_entry(kept, RIGHT, "finding", outline=outline, values=stored.values, by=ANN)
    units = Units("metric")
    assert stored.outline.shape.equals(outline.shape)
    assert stored.outline.drawn_area == outline.drawn_area
    assert [p.area for p in stored.pieces] == [p.area for p in made.pieces]
    assert view["outline"]["area_mm2"] == outline.drawn_area
    assert view["outline"]["area_words"] == units.show(outline.drawn_area, "mm2")
    assert view["where"] == telling.where(stored, units)
    assert (
        view["title"]
        == telling.summary(stored, units, {})
        == "corrosion, pitting, depth as found 0.12 ± 0.02 mm"
    )
    assert view["missing"] == [f.name for f in missing(stored)]
    assert view["typed"]["depth_found"] == "0.12 ± 0.02 mm"
    assert view["told"]["rib_distance"].endswith("mm") and "rib_distance" not in view["typed"]
    assert (view["version"], view["by_name"], view["state"]) == (1, "Ann", "open")
    assert view in book()["entries"]


def test_sent_again_it_is_answered_as_before(say: Any, shop: Any) -> None:
    message = action(entry(where=where(stroke((600, 300), (700, 320)))))
    first = say("actions", message)
    second = say("actions", {**message, "clock_offset_ms": 999_999})
    assert (second["status"], second["changes"]["entries"]) == (
        "repeated",
        first["changes"]["entries"],
    )
    assert second["changes"]["seq"] == first["changes"]["seq"]
    with open_shop(shop) as store:
        assert len(store.history(action_id=message["id"])) == 1


def test_a_change_sent_again_is_the_same_even_when_the_entry_went_on(say: Any) -> None:
    (view,) = say("actions", action(entry()))["changes"]["entries"]
    change = action(again(view, note="second look"), op="change")
    (changed,) = say("actions", change)["changes"]["entries"]
    say("actions", action(again(changed, note="third look"), op="change"))
    assert say("actions", change)["status"] == "repeated"


@pytest.mark.parametrize(
    "other",
    [
        {"words": "something else"},
        {"by": BEN},
        {"steps": [{"op": "add", "entry": entry()}]},
    ],
)
def test_an_id_used_for_something_else_is_refused_showing_both(say: Any, other: Any) -> None:
    message = action(entry(note="first"))
    say("actions", message)
    refusal = say("actions", {**message, **other}, 422)
    assert refusal["code"] == "refused"
    assert "'finding recorded' by Ann" in refusal["message"]


@pytest.mark.parametrize(
    "other",
    [
        {"note": "another"},
        {"values": {"what": "crack"}},
        {"state": "closed"},
        {"place": "near rib 4"},
        {"photos": [{"photo_id": "p-1", "caption": "", "mm_per_pixel": None}]},
        {"where": where(stroke((600, 300), (705, 320)))},
    ],
)
def test_an_id_used_with_another_content_is_refused(say: Any, other: Any) -> None:
    said = entry(note="first", where=where(stroke((600, 300), (700, 320))))
    message = action(said)
    say("actions", message)
    message["steps"] = [{"op": "add", "entry": {**said, **other}}]
    assert "was used before for something else" in say("actions", message, 422)["message"]


def test_two_people_change_one_entry_and_the_second_sees_both(say: Any) -> None:
    (view,) = say("actions", action(entry()))["changes"]["entries"]
    say("actions", action(again(view, note="Ann's"), op="change"))
    mine = action(again(view, note="Ben's"), op="change", by=BEN)
    refusal = say("actions", mine, 409)
    assert refusal["code"] == "stale"
    assert "Ann's" in refusal["message"] and "Ben's" in refusal["message"]
    assert (refusal["theirs"]["note"], refusal["theirs"]["version"]) == ("Ann's", 2)
    # Chosen: one's own, on top of theirs.
    mine = action(again(refusal["theirs"], note="Ben's"), op="change", by=BEN)
    assert say("actions", mine)["changes"]["entries"][0]["note"] == "Ben's"


@pytest.mark.parametrize("op", ["change", "remove"])
def test_an_entry_that_was_removed_is_stale_with_nothing_to_show(say: Any, op: str) -> None:
    (view,) = say("actions", action(entry()))["changes"]["entries"]
    gone = say("actions", action(again(view), op="remove"))
    assert gone["changes"]["removed"] == [view["id"]]
    refusal = say("actions", action(again(view, note="late"), op=op, by=BEN), 409)
    assert (refusal["code"], refusal["theirs"]) == ("stale", None)
    assert "removed by Ann" in refusal["message"]


def test_a_removal_of_what_was_changed_since_is_stale(say: Any) -> None:
    (view,) = say("actions", action(entry()))["changes"]["entries"]
    say("actions", action(again(view, note="changed"), op="change", by=BEN))
    assert say("actions", action(again(view), op="remove"), 409)["theirs"]["note"] == "changed"


def test_a_change_keeps_what_it_does_not_name(say: Any, shop: Any) -> None:
    said = entry(
        where=where(stroke((600, 300), (700, 320))),
        values={"what": "corrosion", "corrosion": "pitting", "technique": "eye"},
    )
    (view,) = say("actions", action(said))["changes"]["entries"]
    change = again(view, values={"corrosion": "", "length": "12"}, state="closed")
    (now,) = say("actions", action(change, op="change"))["changes"]["entries"]
    assert now["outline"] == view["outline"]
    assert now["typed"] == {"what": "corrosion", "technique": "eye", "length": "12 mm"}
    assert (now["state"], now["version"]) == ("closed", 2)
    # Drawn again: outline, pieces and what is worked out from them are new.
    change = again(
        now, where=where({"op": "add", "type": "kept", "entry": view["id"]}, stroke((900, 300)))
    )
    (last,) = say("actions", action(change, op="change"))["changes"]["entries"]
    assert last["outline"]["area_mm2"] > now["outline"]["area_mm2"]
    with open_shop(shop) as store:
        stored = store.book(JOB).entry(view["id"])
    assert sum(p.area for p in stored.pieces) == pytest.approx(stored.outline.drawn_area, rel=1e-6)


def test_inches_are_read_as_inches(say: Any, shop: Any) -> None:
    said = entry(values={"what": "dent", "length": "1 1/2"})
    say("actions", action(said, units="inch"))
    with open_shop(shop) as store:
        assert store.book(JOB).entry(said["id"]).values["length"] == pytest.approx(38.1)


def test_steps_of_one_action_are_stored_together_or_not_at_all(say: Any, book: Any) -> None:
    good, bad = entry(), entry(values={"what": "no such thing"})
    refusal = say("actions", action(good, bad), 422)
    assert "no such thing" in refusal["message"] and "Allowed" in refusal["message"]
    assert book()["entries"] == []
    looked = entry(kind="inspected area", values={"findings": ""}, where=where(stroke((600, 300))))
    assert len(say("actions", action(good, looked))["changes"]["entries"]) == 2


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"kind": "ghost"}, "There is no kind of entry 'ghost'"),
        ({"part_id": "part-none"}, "There is no part 'part-none'"),
        ({"values": {"nonsense": "1"}}, "has no field 'nonsense'"),
        ({"values": {"depth_found": "deep"}}, "'deep' is no number"),
        ({"state": "airworthy"}, "The state of the entry is 'airworthy'"),
        ({"state": "deferred"}, "deferred to a date"),
        ({"part_id": BARE, "where": where(stroke((0, 0)))}, "has no shape"),
        ({"photos": [{"photo_id": "p-1", "caption": "", "mm_per_pixel": None}]}, "photo 'p-1'"),
        ({"where": where(stroke((1, 1)), skin="hull")}, "No skin 'hull'"),
        ({"where": where(stroke((600, 300)), face="aft")}, "No face 'aft'"),
        ({"where": where(stroke((-9000, 0)))}, "lies nowhere on the sheet"),
    ],
)
def test_what_cannot_be_is_refused_with_the_whole_text(say: Any, said: Any, words: str) -> None:
    refusal = say("actions", action(entry(**said)), 422)
    assert refusal["code"] == "refused"
    assert words in refusal["message"]


def test_nobody_unknown_records(say: Any) -> None:
    assert "person" in say("actions", action(entry(), by="nobody"), 422)["message"]


def test_a_clock_that_is_off_is_told_and_stays_beside_the_entry(
    app: Any, say: Any, book: Any, shop: Any
) -> None:
    right, off = entry(), entry()
    assert say("actions", action(right))["notes"] == []
    answer = say("actions", action(off, clock_offset_ms=-600_000))
    (note,) = answer["notes"]
    assert "10 min behind" in note
    told = "device's clock 10 min behind"
    assert [view["clock"] for view in answer["changes"]["entries"]] == [told]
    say("undo", {**undo(), "clock_offset_ms": 240_000})
    say("redo", undo())
    with open_shop(shop) as store:
        rows = store.history(JOB, kind="entry")
        assert [r.clock_offset_ms for r in rows] == [None, 240_000, -600_000, 12]
    # The same from a book that is read anew.
    app.state.room.live(JOB)._read()
    assert {view["id"]: view["clock"] for view in book()["entries"]} == {
        right["id"]: "",
        off["id"]: told,
    }


def test_undo_and_redo_take_back_and_bring_again(say: Any, book: Any) -> None:
    (view,) = say("actions", action(entry(), words="dent recorded"))["changes"]["entries"]
    back = undo()
    answer = say("undo", back)
    assert answer["notes"] == ["dent recorded"]
    assert answer["changes"]["removed"] == [view["id"]] and book()["entries"] == []
    assert say("undo", back)["status"] == "repeated"
    answer = say("redo", undo())
    assert answer["notes"] == ["dent recorded"]
    (now,) = answer["changes"]["entries"]
    assert (now["id"], now["version"]) == (view["id"], view["version"] + 1)
    refusal = say("redo", undo(), 422)
    assert "There is nothing to redo" in refusal["message"]


def test_undo_over_anothers_change_is_refused_with_theirs(say: Any) -> None:
    (view,) = say("actions", action(entry()))["changes"]["entries"]
    say("actions", action(again(view, note="Ben's"), op="change", by=BEN))
    refusal = say("undo", undo(), 409)
    assert refusal["code"] == "stale" and refusal["theirs"]["note"] == "Ben's"


def test_what_another_program_wrote_is_there_at_once(say: Any, shop: Any, book: Any) -> None:
    (view,) = say("actions", action(entry()))["changes"]["entries"]
    with open_shop(shop) as store:
        stored = store.book(JOB).entry(view["id"])
        with store.act(BEN, "by hand") as act:
            act.change(type(stored)(**{**stored.__dict__, "note": "by hand"}))
    assert (
        say("actions", action(again(view, note="x"), op="change"), 409)["theirs"]["note"]
        == "by hand"
    )
    assert book()["entries"][0]["note"] == "by hand"


def test_people_come_once(page: Any) -> None:
    person = {"id": new_id(), "name": "Cy"}
    for _ in range(2):
        assert page.post("/api/people", json=person).json() == person
    assert [p["name"] for p in page.get("/api/start").json()["people"]].count("Cy") == 1
    message = action(entry(), by=person["id"])
    got = page.post(f"/api/jobs/{JOB}/actions", json=message).json()
    assert got["changes"]["entries"][0]["by_name"] == "Cy"
