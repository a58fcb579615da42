"""The ledger on plates whose areas are known by hand (plane geometry)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from time import process_time

import numpy as np
import pandas as pd
import pytest
import shapely
from shapely import MultiPolygon

from mapper.errors import MapperError
from mapper.estimate.estimate import estimate
from mapper.estimate.ledger import (
    COATS,
    INSPECTION,
    LEDGER,
    METHODS,
    coat_ledger,
    inspection_ledger,
    ledger,
    method_ledger,
)
from mapper.job.entry import Piece
from mapper.job.records import Item, Part, Position
from mapper.surface.build import make_skin
from mapper.surface.geometry import Geometry, Placement, Tolerance
from mapper.surface.measure import area
from mapper.surface.region import box, whole
from meshes.loft import LoftSection, loft
from meshes.sections import Naca4
from tests.estimate.books import START, Writer, book_of, plate_geometry


def row(frame: pd.DataFrame, panel: str = "inboard", face: str = "outer", **more: object) -> dict:
    picked = frame[(frame.panel == panel) & (frame.face == face)]
    for column, value in more.items():
        picked = picked[picked[column] == value]
    assert len(picked) == 1
    return picked.iloc[0].to_dict()


def test_columns_and_an_empty_record() -> None:
    frame = ledger(book_of(), "p1")
    assert list(frame.columns) == list(LEDGER)
    assert len(frame) == 4  # two panels, two faces
    one = row(frame)
    assert one["area_mm2"] == pytest.approx(1200 * 1000 - 100 * 100, rel=1e-9)
    assert one["area_low_mm2"] == pytest.approx(0.98 * one["area_mm2"], rel=1e-12)
    assert one["no_record_mm2"] == one["not_looked_at_mm2"] == one["area_mm2"]
    assert one["painted_mm2"] == one["inspected_mm2"] == one["masked_mm2"] == 0.0
    book = book_of()
    assert list(coat_ledger(book, "p1").columns) == list(COATS)
    assert list(inspection_ledger(book, "p1").columns) == list(INSPECTION)
    assert coat_ledger(book, "p1").empty
    assert inspection_ledger(book, "p1").empty


def test_a_part_without_a_shape_has_no_rows_and_an_unknown_part_is_refused() -> None:
    book = book_of(parts=(Part("p1", "j1", "a1", "casting"),))
    assert ledger(book, "p1").empty
    assert list(ledger(book, "p1").columns) == list(LEDGER)
    with pytest.raises(MapperError, match="p9"):
        ledger(book, "p9")


def test_nothing_counts_twice_and_all_is_clipped_to_the_panel() -> None:
    w = Writer()
    w.box("inspected area", "outer", (0, 0, 700, 1000), technique="eye")
    w.box("inspected area", "outer", (400, 0, 1400, 1000), technique="glass")
    w.box("inspected area", "inner", (-50, -50, 100, 100), technique="eye")
    frame = ledger(book_of(w.made), "p1")
    # 0..1200 less the opening; 1200..1400; the corner inside the sheet.
    assert row(frame)["inspected_mm2"] == pytest.approx(1200e3 - 1e4, rel=1e-9)
    assert row(frame)["not_looked_at_mm2"] == pytest.approx(0.0, abs=1e-6)
    assert row(frame, "outboard")["inspected_mm2"] == pytest.approx(200e3, rel=1e-9)
    assert row(frame, "outboard")["not_looked_at_mm2"] == pytest.approx(600e3, rel=1e-9)
    assert row(frame, face="inner")["inspected_mm2"] == pytest.approx(1e4, rel=1e-9)


def test_a_hair_along_the_edge_is_not_a_place_nobody_looked_at() -> None:
    w = Writer()
    w.box("inspected area", "outer", (0, 0, 1199.2, 1000), technique="eye")
    w.box("coat zone", "outer", (0.0015, 0, 1200, 1000), finish_system="f-enamel")
    one = row(ledger(book_of(w.made), "p1"))
    assert one["not_looked_at_mm2"] == 0.0
    assert one["no_record_mm2"] == 0.0
    wider = Writer()
    wider.box("inspected area", "outer", (0, 0, 1198, 1000), technique="eye")
    assert row(ledger(book_of(wider.made), "p1"))["not_looked_at_mm2"] == pytest.approx(2000)


def test_what_two_outlines_of_one_edge_leave_is_no_work() -> None:
    """A seam carried over lies a hair beside the new one: the go is not on the sheet beyond it, and
    nothing of the coat is left along it. What is drawn small for itself stays."""
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 2000, 1000), finish_system="f-enamel")
    for _ in range(4):
        w.box("application", "outer", (0.4, 0, 1200.7, 1000), left_fraction=0.0)
    w.box("inspected area", "outer", (1300, 100, 1300.8, 100.8), technique="glass")
    book = book_of(w.made)
    frame = ledger(book, "p1")
    inboard, outboard = row(frame), row(frame, panel="outboard")
    assert inboard["remaining_mm2"] == 0.0
    assert outboard["worked_mm2"] == 0.0 and outboard["applications"] == 0
    assert outboard["stripped_mm2"] == 0.0
    assert outboard["inspected_mm2"] == pytest.approx(0.64)
    left = estimate(book, scope="remaining")
    one = left.panel("p1", "plate", "inboard", "outer")
    assert one is not None and one.line("stripper").middle == 0.0  # type: ignore[union-attr]
    again = method_ledger(book, "p1")
    assert list(again["panel"]) == ["inboard"]


def test_inspected_per_technique() -> None:
    w = Writer()
    day = date(2024, 3, 5)
    w.box("inspected area", "outer", (0, 0, 400, 1000), technique="eye", date=day, inspector="w1")
    w.box("inspected area", "outer", (200, 0, 400, 1000), technique="eye", date=date(2024, 4, 1))
    w.box("inspected area", "outer", (300, 0, 500, 500), technique="eddy current")
    w.box("inspected area", "outer", (0, 0, 100, 500))
    frame = inspection_ledger(book_of(w.made), "p1")
    eye = row(frame, technique="eye")
    assert eye["inspected_mm2"] == pytest.approx(400e3, rel=1e-9)
    assert (eye["first"], eye["last"]) == (day, date(2024, 4, 1))
    assert eye["by"] == "A. Tester"
    assert row(frame, technique="eddy current")["inspected_mm2"] == pytest.approx(100e3, rel=1e-9)
    assert row(frame, technique="not stated")["first"] is None


def test_painted_unknown_bare_and_unrecorded_fill_the_panel() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), finish_system="f-enamel")
    w.box("coat zone", "outer", (300, 0, 500, 1000), unknown=True)  # later: holds on 300..400
    w.box("coat zone", "outer", (700, 0, 800, 1000), finish_system="f-bare")
    one = row(ledger(book_of(w.made), "p1"))
    assert one["painted_mm2"] == pytest.approx(300e3, rel=1e-9)
    assert one["unknown_mm2"] == pytest.approx(200e3, rel=1e-9)
    assert one["bare_mm2"] == pytest.approx(100e3, rel=1e-9)
    parts = ("painted_mm2", "unknown_mm2", "bare_mm2", "no_record_mm2")
    assert sum(one[p] for p in parts) == pytest.approx(one["area_mm2"], rel=1e-9)
    assert one["stripped_mm2"] == 0.0
    assert one["remaining_mm2"] == pytest.approx(500e3, rel=1e-9)


def test_stripped_per_coat() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), finish_system="f-enamel")
    first = [{"number": 1}]
    both = [{"number": 1}, {"number": 2}]
    w.box("application", "outer", (0, 0, 200, 1000), coats=first, left_fraction=10)
    w.box("application", "outer", (0, 0, 100, 1000), coats=both, left_fraction=0)
    w.box("application", "outer", (300, 0, 400, 500), coats=first, left_area=20e3)
    book = book_of(w.made)
    frame = coat_ledger(book, "p1")
    one = row(frame, coat=1)
    # 100 x 1000 wholly, 100 x 1000 to 10 %, 100 x 500 less 20 000.
    assert one["stripped_mm2"] == pytest.approx(100e3 + 90e3 + 30e3, rel=1e-9)
    assert one["remaining_mm2"] == pytest.approx(400e3 - 220e3, rel=1e-9)
    assert one["applications"] == 3
    assert row(frame, coat=2)["stripped_mm2"] == pytest.approx(100e3, rel=1e-9)
    assert row(frame, coat=3)["stripped_mm2"] == 0.0
    assert row(frame, coat=2)["colour"] == "white"
    wide = row(ledger(book, "p1"))
    assert wide["stripped_mm2"] == 0.0  # coats three and four are on everywhere
    assert wide["worked_mm2"] == pytest.approx(250e3, rel=1e-9)
    assert wide["applications"] == 3


def test_a_later_go_never_puts_paint_back() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 200, 1000), coats=[{"kind": "enamel"}])
    w.box("application", "outer", (0, 0, 100, 1000), coats=[{"kind": "enamel"}], left_fraction=0)
    w.box("application", "outer", (0, 0, 200, 1000), coats=[{"kind": "enamel"}], left_fraction=20)
    one = row(coat_ledger(book_of(w.made), "p1"), coat=1)
    # A fifth of 200 x 1000 is left, all of it on the half that still had paint.
    assert one["remaining_mm2"] == pytest.approx(40e3, rel=1e-9)
    w.box("application", "outer", (0, 0, 200, 1000), coats=[{"kind": "enamel"}], left_fraction=60)
    assert row(coat_ledger(book_of(w.made), "p1"), coat=1)["remaining_mm2"] == pytest.approx(40e3)


def test_goes_that_name_no_coats_or_leave_nothing_said() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 200, 1000), coats=[{"kind": "enamel"}, {"kind": "primer"}])
    w.box("application", "outer", (0, 0, 200, 1000), left_fraction=0)
    w.box("application", "outer", (0, 0, 200, 1000), left_fraction=50)
    w.box("application", "outer", (0, 0, 200, 1000))
    frame = coat_ledger(book_of(w.made), "p1")
    assert row(frame, coat=1)["remaining_mm2"] == 0.0
    assert row(frame, coat=2)["remaining_mm2"] == pytest.approx(100e3, rel=1e-9)
    assert row(frame, coat=2)["not_stated"] == 1
    w.box("blasting round", "outer", (0, 0, 200, 500), left_fraction=0)
    frame = coat_ledger(book_of(w.made), "p1")
    assert row(frame, coat=2)["remaining_mm2"] == pytest.approx(50e3, rel=1e-9)
    assert row(ledger(book_of(w.made), "p1"))["blasting_rounds"] == 1


def test_the_area_stripped_by_each_method_sums_to_the_ledger() -> None:
    assert list(method_ledger(book_of(), "p1").columns) == list(METHODS)
    assert method_ledger(book_of(), "p1").empty
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 500), coats=({"kind": "enamel"},))
    w.box("application", "outer", (0, 0, 200, 500), left_fraction=0)
    # Half of it was bare before: only the other half, 100 x 500 mm, is this round's.
    w.box("blasting round", "outer", (100, 0, 300, 500), left_fraction=0, media="glass bead")
    w.box("blasting round", "outer", (300, 0, 400, 500), left_fraction=50)
    frame = method_ledger(book_of(w.made), "p1")
    found = {r.method: (r.goes, r.worked_mm2, r.stripped_mm2) for r in frame.itertuples()}
    assert found["chemical"] == pytest.approx((1, 100_000, 100_000))
    assert found["glass bead"] == pytest.approx((1, 100_000, 50_000))
    assert found["media not stated"] == pytest.approx((1, 50_000, 25_000))
    assert frame.stripped_mm2.sum() == pytest.approx(
        ledger(book_of(w.made), "p1").stripped_mm2.sum()
    )


def test_an_unknown_stack_is_one_row_without_a_number() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 200, 1000), unknown=True)
    w.box("application", "outer", (0, 0, 100, 1000), left_fraction=25)
    frame = coat_ledger(book_of(w.made), "p1")
    assert len(frame) == 1
    assert frame.coat.isna().all()
    assert frame.remaining_mm2.iloc[0] == pytest.approx(100e3 + 25e3, rel=1e-9)
    assert row(ledger(book_of(w.made), "p1"))["stripped_mm2"] == pytest.approx(75e3, rel=1e-9)


def test_masking_treated_primed() -> None:
    w = Writer()
    w.box("masking", "outer", (0, 0, 100, 1000), protection="tape", on=START)
    w.box("masking", "outer", (50, 0, 150, 1000), protection="tape", on=START)
    off = datetime.fromisoformat("2024-03-09T10:00+00:00")
    w.box("masking", "outer", (800, 0, 900, 1000), protection="tape", on=START, off=off)
    w.line("masking", "outer", [(0, 950), (1300, 950)], protection="tape", on=START)
    w.box("treatment", "outer", (0, 0, 100, 100), what="conversion coat")
    w.box("paint application", "outer", (0, 0, 300, 100), coat="primer")
    w.box("paint application", "outer", (200, 0, 400, 100), coat="primer")
    w.box("paint application", "outer", (0, 0, 50, 100), coat="topcoat")
    frame = ledger(book_of(w.made), "p1")
    one = row(frame)
    assert one["masked_mm2"] == pytest.approx(150e3, rel=1e-9)
    assert one["masking_mm"] == pytest.approx(1200, rel=1e-9)
    assert row(frame, "outboard")["masking_mm"] == pytest.approx(100, rel=1e-9)
    assert one["treated_mm2"] == pytest.approx(1e4, rel=1e-9)
    assert one["primed_mm2"] == pytest.approx(4e4, rel=1e-9)
    assert one["topcoated_mm2"] == pytest.approx(5e3, rel=1e-9)


def test_a_replaced_sheet_takes_its_pieces_with_it() -> None:
    w = Writer()
    w.box("inspected area", "outer", (1000, 0, 1400, 1000), technique="eye")
    shapes = [MultiPolygon([shapely.box(1000, 0, 1200, 1000)])]
    shapes.append(MultiPolygon([shapely.box(1200, 0, 1400, 1000)]))
    pieces = tuple(
        Piece(f"i{i}", "plate", "outer", shape, shape.area) for i, shape in enumerate(shapes)
    )
    entry = replace(w.made[0], pieces=pieces)
    items = (
        Item("i0", "q0", "inboard sheet", since=date(1960, 1, 1)),
        Item("i1", "q1", "outboard sheet", since=date(1960, 1, 1), until=date(2024, 5, 1)),
        Item("i2", "q1", "new outboard sheet", since=date(2024, 5, 1)),
    )
    positions = (
        Position("q0", "p1", "inboard", "plate", "inboard"),
        Position("q1", "p1", "outboard", "plate", "outboard"),
    )
    frame = ledger(book_of([entry], items=items, positions=positions), "p1")
    assert row(frame)["inspected_mm2"] == pytest.approx(200e3, rel=1e-9)
    assert row(frame, "outboard")["inspected_mm2"] == 0.0


def test_on_a_wing_areas_are_those_of_the_surface() -> None:
    # A tapered NACA 2412 wing: the ledger's areas equal the exact measure of the same regions, and
    # what is and is not looked at adds up to the skin.
    sheets = loft([LoftSection(0, 1500, Naca4("2412")), LoftSection(2500, 1000, Naca4("2412"))])
    skin = make_skin(sheets[0], triangles=4000)
    geometry = Geometry(
        "wing", "loft", (skin,), Tolerance("tape", 2.0), Placement(np.zeros(3), np.eye(3))
    )
    strip = box(skin, stations=(500, 1500), chord=(0, 40))
    w = Writer(skin.name)
    w.shape("inspected area", "outer", strip, technique="eye")
    frame = ledger(book_of(w.made, geometry), "p1")
    one = row(frame, "whole skin")
    assert one["inspected_mm2"] == pytest.approx(area(skin, strip), rel=1e-7)
    assert one["area_mm2"] == pytest.approx(area(skin, whole(skin)), rel=1e-7)
    assert one["inspected_mm2"] + one["not_looked_at_mm2"] == pytest.approx(
        one["area_mm2"], rel=1e-6
    )


def test_five_hundred_entries_are_quick() -> None:
    # A practical bound, not a reference: a report makes a ledger for every part.
    rng = np.random.default_rng(4)
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 2000, 1000), finish_system="f-five")
    kinds = ("application", "inspected area", "finding", "masking")
    for i in range(500):
        x, y = rng.uniform(0, 1900), rng.uniform(0, 900)
        kind = kinds[i % 4]
        more = {"left_fraction": 10.0} if kind == "application" else {}
        w.box(kind, ("outer", "inner")[i % 2], (x, y, x + 90, y + 60), **more)
    book = book_of(w.made, plate_geometry())
    start = process_time()  # of this process alone: others may share the machine
    ledger(book, "p1")
    assert process_time() - start < 8.0
