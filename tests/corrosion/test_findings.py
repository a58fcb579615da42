"""Findings on plates known by hand: counts and areas by geometry, intervals by statsmodels."""

from __future__ import annotations

import json
from datetime import date

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from mapper.corrosion.cells import count_cells
from mapper.corrosion.depths import DEPTHS, depth_table
from mapper.corrosion.findings import FINDINGS, findings_table
from mapper.corrosion.settings import Counting, counting_of
from mapper.corrosion.thickness import ABOVE, AGAIN, BELOW, NOT_DECIDED
from mapper.errors import MapperError
from mapper.job.fields import Measured
from mapper.job.records import Part
from mapper.surface.region import clean
from tests.estimate.books import Writer, book_of, plate_geometry


def row(frame: pd.DataFrame, panel: str = "inboard", face: str = "outer") -> dict:
    picked = frame[(frame.panel == panel) & (frame.face == face)]
    assert len(picked) == 1
    return picked.iloc[0].to_dict()


def looked(w: Writer, *corners: float, technique: str = "eye") -> None:
    w.box("inspected area", "outer", corners or (0, 0, 2000, 1000), technique=technique)


def test_where_nobody_looked_there_is_no_number() -> None:
    w = Writer()
    w.points("finding", "outer", [(100, 100)], what="corrosion")
    frame = findings_table(book_of(w.made), "p1")
    assert list(frame.columns) == list(FINDINGS)
    one = row(frame)
    for name in ("per_m2", "per_m2_low", "per_m2_high", "affected_percent", "cells_percent"):
        assert one[name] is None
    assert one["interval"] == "nobody looked"
    assert one["findings"] == 0
    assert one["findings_outside"] == 1
    assert "no inspected area" in one["warning"]
    assert one["not_looked_at_mm2"] == pytest.approx(1.19e6, rel=1e-9)
    # None becomes null, not a number that is not one.
    assert "NaN" not in json.dumps(frame.to_dict("records"))


def test_findings_per_square_metre_and_their_interval() -> None:
    w = Writer()
    looked(w, 0, 0, 1200, 1000)
    for i in range(10):
        w.points("finding", "outer", [(40 + 100 * i, 200)], what="corrosion")
    one = row(findings_table(book_of(w.made), "p1"))
    assert one["findings"] == one["points"] == one["corrosion"] == 10
    assert one["per_m2"] == pytest.approx(10 / 1.19, rel=1e-9)
    # statsmodels, exact central interval of a Poisson rate.
    low, high = confint_poisson(10, 1.19, method="exact-c")
    assert one["per_m2_low"] == pytest.approx(low, rel=1e-7)
    assert one["per_m2_high"] == pytest.approx(high, rel=1e-7)
    assert one["interval"] == "95 % exact, two-sided"


def test_clean_is_data() -> None:
    # Worked example: zero findings in .4 m2, one-sided upper 95 % 7.489 per m2 (definition).
    w = Writer()
    looked(w, 0, 0, 400, 1000)
    one = row(findings_table(book_of(w.made), "p1"))
    assert (one["findings"], one["per_m2"], one["per_m2_low"]) == (0, 0.0, 0.0)
    assert one["per_m2_high"] == pytest.approx(7.489, abs=5e-4)
    assert one["interval"] == "95 % exact, one-sided upper"


def test_the_denominator_is_a_union() -> None:
    w = Writer()
    looked(w, 0, 0, 300, 1000)
    looked(w, 200, 0, 400, 1000, technique="penetrant")
    w.points("finding", "outer", [(50, 50)], what="crack", technique="eye")
    w.points("finding", "outer", [(350, 50)], what="crack", technique="penetrant")
    one = row(findings_table(book_of(w.made), "p1"))
    assert one["inspected_mm2"] == pytest.approx(400e3, rel=1e-9)
    assert one["per_m2"] == pytest.approx(5.0, rel=1e-9)
    assert one["techniques"] == "eye, penetrant"
    by_penetrant = row(findings_table(book_of(w.made), "p1", technique="penetrant"))
    assert by_penetrant["inspected_mm2"] == pytest.approx(200e3, rel=1e-9)
    assert by_penetrant["findings"] == 1


def test_a_finding_seen_again_is_one() -> None:
    w = Writer()
    looked(w)
    first = w.points("finding", "outer", [(100, 100)], what="corrosion")
    second = w.points("finding", "outer", [(101, 100)], what="corrosion", continues=first)
    w.points("finding", "outer", [(102, 100)], what="corrosion", continues=second)
    w.points("finding", "outer", [(500, 100)], what="dent", continues="gone")
    one = row(findings_table(book_of(w.made), "p1"))
    assert one["findings"] == 2
    assert one["corrosion"] == 1
    assert row(findings_table(book_of(w.made), "p1", what="corrosion"))["findings"] == 1


def test_a_finding_across_a_seam_counts_once_where_most_of_it_lies() -> None:
    w = Writer()
    looked(w)
    w.box("finding", "outer", (1100, 0, 1250, 100), what="corrosion")
    w.line("finding", "outer", [(1190, 500), (1300, 500)], what="crack")
    frame = findings_table(book_of(w.made), "p1")
    inboard, outboard = row(frame), row(frame, "outboard")
    assert (inboard["findings"], inboard["areas"]) == (1, 1)
    assert (outboard["findings"], outboard["lines"]) == (1, 1)
    assert inboard["affected_mm2"] == pytest.approx(100 * 100, rel=1e-9)
    assert outboard["affected_mm2"] == pytest.approx(50 * 100, rel=1e-9)


def test_affected_share_and_its_bounds() -> None:
    w = Writer()
    w.box("inspected area", "outer", (1200, 0, 1600, 1000), technique="eye")
    w.box("finding", "outer", (1200, 0, 1300, 200), what="corrosion")
    w.box("finding", "outer", (1250, 0, 1350, 200), what="corrosion")  # overlaps the first
    w.box("finding", "outer", (1900, 0, 2000, 100), what="corrosion")  # where nobody looked
    one = row(findings_table(book_of(w.made), "p1"), "outboard")
    assert one["affected_mm2"] == pytest.approx(150 * 200 + 1e4, rel=1e-9)
    assert one["affected_percent"] == pytest.approx(100 * 30e3 / 400e3, rel=1e-9)
    # If nothing, or everything, is wrong on the 400 000 less 10 000 mm2 nobody looked at.
    assert one["affected_percent_low"] == pytest.approx(100 * 40e3 / 800e3, rel=1e-9)
    assert one["affected_percent_high"] == pytest.approx(100 * 430e3 / 800e3, rel=1e-9)
    assert one["findings"] == 2
    assert one["findings_outside"] == 1
    assert "1 finding outside the inspected area" in one["warning"]


def test_bounds_close_where_all_was_looked_at() -> None:
    w = Writer()
    looked(w)
    w.box("finding", "outer", (1200, 0, 1300, 200), what="corrosion")
    one = row(findings_table(book_of(w.made), "p1"), "outboard")
    assert one["affected_percent"] == pytest.approx(2.5, rel=1e-9)
    assert one["affected_percent_low"] == pytest.approx(2.5, rel=1e-9)
    assert one["affected_percent_high"] == pytest.approx(2.5, rel=1e-6)


def test_a_pit_with_typed_size_has_the_area_of_its_ellipse() -> None:
    w = Writer()
    looked(w)
    w.points("finding", "outer", [(1500, 500)], what="corrosion", length=12.0, width=6.0)
    one = row(findings_table(book_of(w.made), "p1"), "outboard")
    # pi/4 x 12 x 6 (definition); outlines are kept on a grid of 1e-4 mm.
    assert one["affected_mm2"] == pytest.approx(np.pi / 4 * 72, rel=1e-4)
    assert one["points"] == 1
    assert one["warning"] == ""
    w.points("finding", "outer", [(1600, 500)], what="corrosion")
    one = row(findings_table(book_of(w.made), "p1"), "outboard")
    assert one["warning"] == "1 finding drawn as points or lines: no affected area is known."


def test_an_area_drawn_up_to_a_seam_is_not_on_the_next_sheet() -> None:
    w = Writer()
    looked(w, 0, 0, 1200.0004, 1000)
    w.box("finding", "outer", (1100, 0, 1200.0004, 100), what="corrosion")
    w.line("finding", "outer", [(1100, 500), (1200, 500)], what="crack")
    one = row(findings_table(book_of(w.made), "p1"), "outboard")
    assert one["inspected_mm2"] == 0.0
    assert one["per_m2_high"] is None
    assert one["affected_mm2"] == one["findings"] == one["findings_outside"] == 0


def test_share_of_equal_cells() -> None:
    # Outboard panel 800 x 1000: 4 x 5 cells of 200 mm; three affected; statsmodels' exact interval.
    w = Writer()
    looked(w)
    w.box("finding", "outer", (1350, 50, 1450, 100), what="corrosion")  # reaches into two
    w.points("finding", "outer", [(1850, 850)], what="corrosion")
    one = row(findings_table(book_of(w.made), "p1"), "outboard")
    assert (one["cells"], one["cells_affected"]) == (20, 3)
    low, high = proportion_confint(3, 20, method="beta")
    assert one["cells_percent"] == pytest.approx(15.0)
    assert one["cells_percent_low"] == pytest.approx(100 * low, rel=1e-9)
    assert one["cells_percent_high"] == pytest.approx(100 * high, rel=1e-9)
    # The opening leaves the inboard panel 30 cells less those it cuts into (500..600 lies in one).
    assert row(findings_table(book_of(w.made), "p1"))["cells"] == 6 * 5 - 1


def test_clumped_findings_are_warned_of() -> None:
    # Counts 7, 4, 2, 1 in four of 20 equal cells: variance/mean from the definition.
    w = Writer()
    looked(w)
    counts = [7, 4, 2, 1] + [0] * 16
    for cell, n in enumerate(counts):
        x, y = 1200 + 200 * (cell % 4), 200 * (cell // 4)
        for i in range(n):
            w.points("finding", "outer", [(x + 20 + 20 * i, y + 100)], what="corrosion")
    one = row(findings_table(book_of(w.made), "p1"), "outboard")
    assert one["variance_to_mean"] == pytest.approx(
        np.var(counts, ddof=1) / np.mean(counts), rel=1e-12
    )
    assert one["clumped"]
    assert "too narrow" in one["warning"]
    few = book_of(w.made, settings={"corrosion.cell": 400.0})
    assert row(findings_table(few, "p1"), "outboard")["variance_to_mean"] is None  # four cells


def test_cells_where_little_was_looked_at() -> None:
    none = clean(plate_geometry().panels[0].flat)
    assert count_cells(none, clean(none.buffer(-600)), [], 200.0).cells == 0
    w = Writer()
    looked(w, 0, 0, 150, 150)
    one = row(findings_table(book_of(w.made), "p1"))
    assert one["cells"] == 0
    assert one["cells_percent"] is None


def test_level_is_a_setting() -> None:
    w = Writer()
    looked(w, 0, 0, 400, 1000)
    book = book_of(w.made, settings={"corrosion.level": 0.9})
    one = row(findings_table(book, "p1"))
    assert one["per_m2_high"] == pytest.approx(-np.log(0.1) / 0.4, rel=1e-7)
    assert one["interval"].startswith("90 %")
    assert counting_of({}) == Counting()
    assert any("1.645" in words for words in Counting().words)


def test_empty_and_refused() -> None:
    shapeless = book_of(parts=(Part("p1", "j1", "a1", "casting"),))
    assert findings_table(shapeless, "p1").empty
    assert list(findings_table(shapeless, "p1").columns) == list(FINDINGS)
    assert depth_table(shapeless, "p1").empty
    assert list(depth_table(shapeless, "p1").columns) == list(DEPTHS)
    with pytest.raises(MapperError, match="p9"):
        findings_table(book_of(), "p9")
    with pytest.raises(MapperError, match=r"Did you mean 'corrosion\.factor'"):
        counting_of({"corrosion.facter": 1})
    with pytest.raises(MapperError, match=r"at most 0\.999"):
        counting_of({"corrosion.level": 95})


def depths(w: Writer, **sheet: object) -> dict:
    frame = depth_table(book_of(w.made, plate_geometry(**sheet)), "p1")
    assert len(frame) == 1
    return frame.iloc[0].to_dict()


def test_remaining_thickness_beside_its_limit() -> None:
    # Worked example: .80 +/- .05 less .12 +/- .02 (one sd each, entered as 95 % half-widths).
    half = float(stats.norm.ppf(0.975))
    common = {
        "what": "corrosion",
        "corrosion": "pitting",
        "gauge": Measured(0.80, 0.05 * half),
        "gauge_basis": "measured",
        "depth_found": Measured(0.20, 0.02),
        "depth_cleaned": Measured(0.12, 0.02 * half),
        "limit_document": "Repair manual",
        "limit_page": "51-3",
    }
    for limit, answer in ((0.65, AGAIN), (0.59, ABOVE), (0.78, BELOW)):
        w = Writer()
        w.points("finding", "outer", [(100, 100)], limit=limit, **common)
        one = depths(w)
        assert one["answer"] == answer
        assert one["remaining_mm"] == pytest.approx(0.68, rel=1e-12)
        assert one["remaining_sd_mm"] == pytest.approx(0.0539, abs=5e-5)
        assert one["depth_is"] == "after cleaning"
        assert one["worst_mm"] == 0.20
        assert one["grade"] == "moderate"
        assert one["limit_from"] == "Repair manual, 51-3"
        if limit == 0.65:
            assert one["sd_from_limit"] == pytest.approx(0.557, abs=5e-4)


def test_the_gauge_of_the_papers_decides_nothing() -> None:
    w = Writer()
    w.points(
        "finding", "outer", [(100, 100)], what="corrosion", depth_found=Measured(0.01), limit=0.1
    )
    one = depths(w, gauge=3.0)
    assert (one["gauge_mm"], one["gauge_is"]) == (3.0, "nominal")
    assert one["answer"] == NOT_DECIDED
    assert one["lacks"] == "gauge"
    assert "before cleaning" in one["note"]
    assert one["remaining_sd_mm"] is None
    unknown = depths(w, gauge=None)
    assert unknown["remaining_mm"] is None
    assert unknown["answer"] == ""
    assert unknown["gauge_is"] == "not known"


def test_the_latest_depth_governs_and_the_worst_stays() -> None:
    w = Writer()
    first = w.points(
        "finding", "outer", [(100, 100)], what="corrosion", depth_found=Measured(0.30, 0.02)
    )
    attempts = [
        {
            "date": date(2024, 5, 1),
            "done": "rubbed",
            "depth_after": Measured(0.1),
            "black_left": True,
        },
        {
            "date": date(2024, 5, 2),
            "done": "rubbed",
            "depth_after": Measured(0.15),
            "black_left": True,
        },
    ]
    w.points("finding", "outer", [(100, 100)], what="corrosion", continues=first, attempts=attempts)
    one = depths(w)
    assert one["finding"] == first
    assert (one["depth_mm"], one["depth_is"], one["worst_mm"]) == (0.15, "after an attempt", 0.30)
    assert "ask the inspector" in one["note"]
    assert one["depth_plus_minus_mm"] is None


def test_what_lies_over_it_on_the_other_face_comes_off_too() -> None:
    w = Writer()
    pit = {"what": "corrosion", "gauge": Measured(1.0, 0.0), "gauge_basis": "measured"}
    w.box("finding", "outer", (100, 100, 200, 200), depth_found=Measured(0.1, 0.0), **pit)
    w.box("finding", "inner", (150, 150, 250, 250), depth_found=Measured(0.3, 0.0), **pit)
    w.box("finding", "inner", (400, 150, 450, 250), depth_found=Measured(0.5, 0.0), **pit)
    frame = depth_table(book_of(w.made), "p1")
    assert list(frame.other_face_mm) == [0.3, 0.1, 0.0]
    assert list(frame.remaining_mm) == pytest.approx([0.6, 0.6, 0.5], rel=1e-12)


def test_a_dent_takes_nothing_off_and_a_finding_in_words_is_still_listed() -> None:
    w = Writer()
    w.points("finding", "outer", [(100, 100)], what="dent", depth_found=Measured(2.0, 0.1))
    w.worded("finding", "under the strap", what="corrosion", depth_found=Measured(0.02, 0.01))
    one = depths(w)
    assert one["skin"] == ""
    assert one["grade"] == "light"
    assert one["gauge_is"] == "not known"
