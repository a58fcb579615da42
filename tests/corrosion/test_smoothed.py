"""The smoothed map of findings: counted as in the table, divided by what was looked at.

Closed forms: one finding is as high as the bell's top, 1 / (2 pi s2); a half plane is one half on
its edge; an even spread is even up to the edges (identities). Intervals: statsmodels.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point
from statsmodels.stats.rates import confint_poisson

from mapper.corrosion.bands import MOST, PERCENT, count_steps, width_area
from mapper.corrosion.findings import findings_table
from mapper.corrosion.mapwords import sentences, step, told
from mapper.corrosion.smoothed import (
    LEAST_SEEN,
    Smoothed,
    faces_with_findings,
    smoothed_findings,
)
from mapper.errors import MapperError
from mapper.units import Units
from tests.estimate.books import OPENING, Writer, book_of

METRIC = Units("metric")


def looked(w: Writer, *corners: float, face: str = "outer") -> None:
    w.box("inspected area", face, corners or (0, 0, 2000, 1000), technique="eye")


def spot(w: Writer, x: float, y: float, **values: str) -> str:
    return w.points("finding", "outer", [(x, y)], **{"what": "corrosion", **values})


def mapped(w: Writer, **more) -> Smoothed:
    return smoothed_findings(book_of(w.made), "p1", "plate", "outer", **more)


def rank_at(smoothed: Smoothed, x: float, y: float) -> int | None:
    """The step that a place lies in; None where there is no value."""
    found = [b.rank for b in smoothed.bands if b.region.covers(Point(x, y))]
    assert len(found) <= 1
    return found[0] if found else None


def test_it_counts_what_the_table_counts() -> None:
    w = Writer()
    looked(w, 0, 0, 1700, 1000)
    first = spot(w, 200, 200)
    spot(w, 210, 220, continues=first)  # the same one seen again
    w.box("finding", "outer", (1150, 400, 1260, 450), what="corrosion")  # across the seam
    w.line("finding", "outer", [(900, 800), (1000, 850)], what="scratch")
    w.points("finding", "outer", [(300, 700), (320, 700), (340, 700)], what="corrosion")
    spot(w, 1900, 500)  # where nobody looked
    book = book_of(w.made)
    table = findings_table(book, "p1")
    table = table[table.face == "outer"]
    smoothed = smoothed_findings(book, "p1", "plate", "outer")
    assert smoothed.findings == table.findings.sum() == 4
    assert smoothed.outside == table.findings_outside.sum() == 1
    assert smoothed.inspected_mm2 == pytest.approx(table.inspected_mm2.sum(), rel=1e-9)
    assert smoothed.mean == pytest.approx(4 / (table.inspected_mm2.sum() / 1e6), rel=1e-9)
    assert smoothed_findings(book, "p1", "plate", "outer", what="scratch").findings == 1
    assert len(smoothed.places) == 4
    assert faces_with_findings(book, "p1") == (("plate", "outer"),)


def test_where_nobody_looked_there_is_no_value() -> None:
    w = Writer()
    spot(w, 200, 200)
    smoothed = mapped(w)
    assert (smoothed.mean, smoothed.peak, smoothed.bands) == (None, None, ())
    assert smoothed.shown.is_empty
    assert smoothed.unseen.area == pytest.approx(1.99e6, rel=1e-6)
    assert smoothed.outside == 1
    assert "Nobody has looked" in sentences(smoothed, METRIC)[0]
    assert faces_with_findings(book_of(w.made), "p1") == ()
    # Half a sheet: nothing is said of the other half, nor of the opening, however near.
    looked(w, 0, 0, 1000, 1000)
    smoothed = mapped(w)
    assert rank_at(smoothed, 990, 500) == 0
    assert rank_at(smoothed, 1010, 500) is None
    assert rank_at(smoothed, 550, 550) is None
    assert smoothed.unseen.covers(Point(1500, 500))
    assert not smoothed.unseen.intersects(OPENING.buffer(-1))
    assert smoothed.shown.area + smoothed.unseen.area == pytest.approx(1.99e6, rel=1e-6)
    assert sum(b.region.area for b in smoothed.bands) == pytest.approx(smoothed.shown.area)


def test_too_little_looked_at_about_a_place_is_not_looked_at() -> None:
    """A strip 2 b wide has erf(b / (s sqrt 2)) of the bell in its middle: .27 at .35 s, .16 at .2 s
    (normal integral); LEAST_SEEN lies between."""
    width = 150.0
    for half, there in ((0.40 * width, True), (0.25 * width, False)):
        w = Writer()
        looked(w, 0, 250 - half, 2000, 250 + half)
        smoothed = mapped(w, width=width)
        assert (rank_at(smoothed, 1500, 250) == 0) is there
    assert 0.16 < LEAST_SEEN < 0.27


def test_one_finding_is_as_high_as_the_bell() -> None:
    w = Writer()
    looked(w)
    spot(w, 1500, 480)
    smoothed = mapped(w, width=120.0)
    assert smoothed.peak is not None
    value, at = smoothed.peak
    assert value == pytest.approx(1e6 / (2 * np.pi * 120.0**2), rel=0.02)
    assert np.hypot(at[0] - 1500, at[1] - 480) < 30.0
    # One finding is nothing that chance could not do.
    assert [b.rank for b in smoothed.bands] == [0]
    assert "No place is told from another" in " ".join(told(smoothed, METRIC))


@pytest.mark.parametrize("shape", ["area", "line", "points"])
def test_a_finding_counts_once_however_it_is_drawn(shape: str) -> None:
    w = Writer()
    looked(w)
    if shape == "area":
        w.box("finding", "outer", (1480, 460, 1520, 500), what="corrosion")
    elif shape == "line":
        w.line("finding", "outer", [(1480, 480), (1520, 480)], what="crack")
    else:
        w.points("finding", "outer", [(1490, 480), (1510, 480)], what="corrosion")
    smoothed = mapped(w, width=120.0)
    assert smoothed.mean == pytest.approx(1 / 1.99, rel=1e-9)
    assert smoothed.peak is not None
    assert smoothed.peak[0] == pytest.approx(1e6 / (2 * np.pi * 120.0**2), rel=0.04)


def test_a_finding_drawn_in_the_opening_counts_at_its_edge() -> None:
    w = Writer()
    looked(w)
    w.points("finding", "outer", [(510, 550), (505, 550)], what="crack")
    smoothed = mapped(w)
    # The table's own rule decides whether it counts; what counts is never lost.
    assert smoothed.mean == pytest.approx(smoothed.findings / 1.99, rel=1e-9)


def test_an_even_spread_is_even_up_to_every_edge() -> None:
    """A lattice of findings 50 mm apart, inspected to an oblique line: 400 per m2 everywhere, at
    the sheet's edge, at the opening and at the end of what was looked at alike."""
    w = Writer()
    part = shapely.Polygon([(0, 0), (1500, 0), (1100, 1000), (0, 1000)])
    w.shape("inspected area", "outer", MultiPolygon([part]), technique="eye")
    for x in np.arange(25.0, 2000, 50):
        for y in np.arange(25.0, 1000, 50):
            if part.contains(Point(x, y)) and not OPENING.covers(Point(x, y)):
                spot(w, x, y)
    smoothed = mapped(w)
    assert smoothed.mean == pytest.approx(400.0, rel=0.01)
    assert smoothed.peak is not None and smoothed.peak[0] == pytest.approx(400.0, rel=0.05)
    assert [b.rank for b in smoothed.bands] == [MOST - 1]
    assert smoothed.shown.area == pytest.approx(part.area - OPENING.area, rel=1e-4)


def test_the_other_face_stays_empty() -> None:
    w = Writer()
    looked(w)
    looked(w, face="inner")
    for x in range(100, 400, 20):
        spot(w, x, 300)
    book = book_of(w.made)
    inner = smoothed_findings(book, "p1", "plate", "inner")
    assert (inner.findings, inner.mean, inner.peak and inner.peak[0]) == (0, 0.0, 0.0)
    assert faces_with_findings(book, "p1") == (("plate", "outer"),)
    outer = smoothed_findings(book, "p1", "plate", "outer")
    assert rank_at(outer, 250, 300) > rank_at(outer, 1600, 300) == 0


def test_share_of_area_affected() -> None:
    w = Writer()
    looked(w)
    w.box("finding", "outer", (1200, 0, 1600, 1000), what="corrosion")
    w.box("finding", "outer", (1300, 200, 1400, 300), what="corrosion")  # inside the first
    spot(w, 300, 300)
    smoothed = mapped(w, by="area", width=60.0)
    assert smoothed.mean == pytest.approx(100 * 0.4 / 1.99, rel=1e-6)
    # In the middle of a strip 2 b = 400 mm wide: erf(b / (s sqrt 2)) = 99.91 % (normal integral).
    assert smoothed.peak is not None and smoothed.peak[0] == pytest.approx(99.91, abs=0.1)
    assert smoothed.flat == 1
    assert "no area is known" in " ".join(told(smoothed, METRIC))
    ranks = [rank_at(smoothed, x, 500) for x in (1580, 1595, 1640, 1680, 1730, 1850)]
    # On the edge one half; 1 - Phi(d / s) beyond: 25 % at 40 mm, 9 % at 80, 1.5 % at 130.
    assert ranks == [4, 4, 3, 2, 1, 0]
    assert [b.low for b in smoothed.bands] == list(PERCENT)
    assert step(smoothed.bands[-1], "area", METRIC) == "30 % or more"


def test_steps_are_as_wide_as_chance() -> None:
    """Each border lies between the exact intervals (statsmodels) of the counts on either side, and
    those do not overlap; one count less would."""
    area = 0.283
    ends = np.array(count_steps(area, 0.95))
    assert len(ends) == MOST and ends[0] == 0.0
    # The least count whose interval clears that of the step before; found here by statsmodels.
    high = 2.9957  # one-sided upper of nothing found
    for border in ends[1:] * area:
        n = next(n for n in range(1, 500) if confint_poisson(n, 1, method="exact-c")[0] > high)
        low, top = confint_poisson(n, 1, method="exact-c")
        assert high < border < low
        assert confint_poisson(n - 1, 1, method="exact-c")[0] <= high
        high = top
    # A larger area tells finer steps apart.
    assert count_steps(2 * area, 0.95)[1] == pytest.approx(ends[1] / 2)


def test_what_a_place_weighs() -> None:
    """(sum of the bell)2 / sum of its squares, by quadrature; never more than was looked at."""
    s = 50.0
    x = np.linspace(-400, 400, 801)
    bell = np.exp(-(x[:, None] ** 2 + x[None] ** 2) / (2 * s * s))
    assert width_area(s, 1e9) == pytest.approx(bell.sum() ** 2 / (bell**2).sum(), rel=1e-6)
    assert width_area(s, 7000.0) == 7000.0


def test_the_width_is_the_shops() -> None:
    w = Writer()
    looked(w)
    spot(w, 1000, 500)
    book = book_of(w.made, settings={"corrosion.width": 300.0})
    assert smoothed_findings(book, "p1", "plate", "outer").width == 300.0
    assert smoothed_findings(book, "p1", "plate", "outer", width=90.0).width == 90.0
    with pytest.raises(MapperError, match=r"corrosion\.width"):
        smoothed_findings(
            book_of(w.made, settings={"corrosion.width": 5.0}), "p1", "plate", "outer"
        )


def test_words_say_what_it_counts_in_the_shops_units() -> None:
    w = Writer()
    looked(w, 0, 0, 1700, 1000)
    for x in range(100, 500, 20):
        spot(w, x, 300)
    spot(w, 1900, 100)
    smoothed = mapped(w)
    text = " ".join(sentences(smoothed, METRIC))
    for words in (
        "20 findings in 1.69 m²", "11.8 /m² in the mean", "150 mm", "0.283 m²", "25 %", "95 %",
        "1 finding lies outside", "never means that nothing is there", "never through the sheet",
    ):  # fmt: skip
        assert words in text, words
    inches = " ".join(sentences(smoothed, Units("inch")))
    assert "5.91 in" in inches and "18.2 ft²" in inches and "/ft²" in inches
    labels = [step(b, "count", METRIC) for b in smoothed.bands]
    assert labels[0].startswith("below ") and all("/m²" in label for label in labels)


def test_mistakes_are_told() -> None:
    w = Writer()
    looked(w)
    book = book_of(w.made)
    for more, words in (
        ({"by": "weight"}, "'count' or 'area'"),
        ({"width": -1.0}, "above 0"),
        ({"face": "third"}, "'outer', 'inner'"),
        ({"skin_name": "rib"}, "It has 'plate'"),
        ({"part_id": "p9"}, "no part"),
    ):
        given = {"part_id": "p1", "skin_name": "plate", "face": "outer", **more}
        with pytest.raises(MapperError, match=words):
            smoothed_findings(book, **given)
