"""The estimate on plates known by hand: middles worked again from the formulas, honest ranges."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import MultiLineString

from mapper.errors import MapperError
from mapper.estimate.chemical import Coats, Rates, strip
from mapper.estimate.estimate import FRAME, Estimate, estimate
from mapper.estimate.quantities import QUANTITIES
from mapper.job.fields import Measured
from mapper.job.records import Part, Shop
from mapper.surface.geometry import MapLine
from mapper.units import Units
from tests.estimate.books import Writer, book_of, plate_geometry

# The worked example's rates as a shop's own figures (invented inputs).
EXAMPLE = {
    "estimate.lap": 0.025,
    "estimate.enamel_left": 0.1,
    "estimate.lacquer_left": 0.45,
    "estimate.most_rounds": 50,
    "estimate.wet_film": 0.75,
    "estimate.drip": 0.1,
    "estimate.apply": 12,
    "estimate.enamel_scrape": 4,
    "estimate.lacquer_scrape": 1,
    "estimate.rinse": 10,
    "estimate.tape": 20,
    "estimate.dwell": 25,
    "estimate.coat_thickness": 40,
    "estimate.coat_density": 1.4,
    "estimate.stripper_density": 1.05,
    "estimate.evaporated": 0.3,
    "estimate.rinse_water": 15,
    "estimate.rinses": 2,
    "estimate.scatter": 0,
    "estimate.primer_film": 20,
    "estimate.primer_solids": 40,
    "estimate.transfer": 0.55,
    "estimate.line_loss": 0.15,
}


def middle(one: Estimate, quantity: str, panel: str = "inboard", face: str = "outer") -> float:
    found = one.panel("p1", "plate", panel, face)
    assert found is not None
    line = found.line(quantity)
    assert line is not None
    return line.middle


def five_coats() -> Writer:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), finish_system="f-five")
    return w


def test_middles_are_the_formulas_at_the_shops_figures() -> None:
    one = estimate(book_of(five_coats().made, settings=EXAMPLE))
    # .4 m2, 2.8 m round: the formulas of chemical stripping, tested apart with the worked example.
    coats = [Coats("enamel", 4, 0.1, 4.0, 40.0), Coats("lacquer", 1, 0.45, 1.0, 40.0)]
    rates = Rates(0.025, 0.75, 0.1, 12, 10, 20, 0.4, 25, 1.4, 1.05, 0.3, 15, 2)
    hand = strip(0.4, 2.8, coats, rates)
    assert middle(one, "stripped_area") == pytest.approx(0.4, rel=1e-6)
    assert middle(one, "stripper") == pytest.approx(float(hand.stripper), rel=1e-6)
    assert middle(one, "labour") == pytest.approx(float(hand.hours), rel=1e-6)
    assert middle(one, "sludge") == pytest.approx(float(hand.sludge), rel=1e-6)
    assert middle(one, "rinse_water") == pytest.approx(12.0, rel=1e-6)
    assert middle(one, "dwell") == pytest.approx(13 * 25 / 60, rel=1e-6)
    # Primer: 10 x 40 / 20 = 20 m2/L (identity), 55 % of it arrives.
    assert middle(one, "primer") == pytest.approx(0.4 / (20 * 0.55), rel=1e-6)
    part = {line.quantity: line for line in one.parts[0].lines}
    assert part["primer_mixed"].middle == pytest.approx(0.4 / 11 + 0.15, rel=1e-6)
    assert part["pots"].middle == 1.0


def test_only_the_tolerance_is_left_when_every_rate_is_fixed() -> None:
    book = book_of(five_coats().made, plate_geometry(percent=5.0), settings=EXAMPLE)
    line = estimate(book).panel("p1", "plate", "inboard", "outer").line("rinse_water")  # type: ignore[union-attr]
    assert line is not None
    # 80 % of a normal whose 95 % half-width is 5 %: 1.2816 / 1.9600 x 5 % = 3.269 %.
    assert line.high / line.middle - 1 == pytest.approx(0.03269, rel=5e-3)
    tape = estimate(book).panel("p1", "plate", "inboard", "outer").line("tape")  # type: ignore[union-attr]
    assert tape is not None
    # A length grows with the root of its area.
    assert tape.high / tape.middle - 1 == pytest.approx(0.03269 / 2, rel=2e-2)
    sharp = book_of(five_coats().made, plate_geometry(percent=0.0), settings=EXAMPLE)
    line = estimate(sharp).panel("p1", "plate", "inboard", "outer").line("labour")  # type: ignore[union-attr]
    assert line is not None
    assert line.low == line.middle == line.high


def test_a_worse_shape_widens_the_range() -> None:
    def width(percent: float) -> float:
        book = book_of(five_coats().made, plate_geometry(percent=percent))
        line = estimate(book).panel("p1", "plate", "inboard", "outer").line("stripped_area")  # type: ignore[union-attr]
        assert line is not None
        return line.high - line.low

    assert width(10.0) == pytest.approx(5 * width(2.0), rel=1e-6)


def test_low_middle_high_are_in_order_and_middles_add_up() -> None:
    w = five_coats()
    w.box("coat zone", "outer", (1200, 0, 2000, 1000), finish_system="f-enamel")
    w.box("coat zone", "inner", (0, 0, 1200, 1000), unknown=True)
    one = estimate(book_of(w.made))
    frame = one.frame()
    assert list(frame.columns) == list(FRAME)
    assert (frame.low <= frame.middle).all()
    assert (frame.middle <= frame.high).all()
    for name in QUANTITIES:
        rows = frame[frame.quantity == name]
        total = rows[rows.level == "panel"].middle.sum()
        for level in ("part", "job"):
            assert rows[rows.level == level].middle.iloc[0] == pytest.approx(total, rel=1e-9)
    for whole, parts in (
        ("labour", ("apply", "scrape", "hand", "rinse", "tape")),
        ("sludge", ()),
    ):
        assert set(frame[frame.within == whole].quantity) >= set(parts)
    sure = frame[(frame.panel == "inboard") & (frame.face == "outer")].set_index("quantity").middle
    assert sure["labour"] == pytest.approx(
        sum(sure[n] for n in ("apply", "scrape", "hand", "rinse", "tape")), rel=1e-9
    )


def test_a_total_is_not_surer_than_its_shared_rates() -> None:
    # Two equal panels share their rates: the relative width of the total stays near that of one
    # (sums of independent panels would shrink by sqrt 2).
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), finish_system="f-enamel")
    w.box("coat zone", "outer", (1200, 0, 1600, 1000), finish_system="f-enamel")
    settings = {"estimate.scatter": 0}
    one = estimate(book_of(w.made, settings=settings))
    panel = one.panel("p1", "plate", "inboard", "outer")
    assert panel is not None
    line = panel.line("stripper")
    total = next(n for n in one.lines if n.quantity == "stripper")
    assert line is not None
    assert total.high / total.low == pytest.approx(line.high / line.low, rel=1e-3)


def test_unknown_coats_give_a_range_and_never_a_count() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), unknown=True)
    one = estimate(book_of(w.made))
    panel = one.panel("p1", "plate", "inboard", "outer")
    assert panel is not None
    line = panel.line("stripper")
    assert line is not None
    assert not line.certain
    assert line.high > 3 * line.low
    wetted = panel.line("wetted_area")
    assert wetted is not None
    words = "; ".join(i.words(Units("metric")) for i in wetted.inputs)
    assert "coats nobody knows 1 to 6" in words
    assert any("Nobody knows the coats on 0.400 m²" in u.text for u in panel.unknowns)
    assert any("1 to 6" in basis and "none is singled out" in basis for basis in line.basis)
    area = panel.line("stripped_area")
    assert area is not None
    assert area.certain
    # One enamel coat bounds it from below, six of lacquer from above.
    known = [{"kind": "enamel"}]
    least = Writer()
    least.box("coat zone", "outer", (0, 0, 400, 1000), coats=known)
    most = Writer()
    most.box("coat zone", "outer", (0, 0, 400, 1000), coats=[{"kind": "lacquer"}] * 6)
    assert middle(estimate(book_of(least.made)), "stripper") < line.middle
    assert line.middle < middle(estimate(book_of(most.made)), "stripper")


def test_coats_without_figures_of_their_own_are_said_to_be_assumed() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), coats=[{"kind": "epoxy"}, {"kind": "dope"}])
    one = estimate(book_of(w.made))
    texts = " ".join(u.text for u in one.unknowns)
    assert "epoxy has no figures of its own; the range runs from enamel to lacquer" in texts
    assert "dope has no figures of its own and is taken as lacquer" in texts
    assert not one.parts[0].panels[0].line("stripper").certain  # type: ignore[union-attr]


def test_what_is_not_known_is_listed() -> None:
    w = five_coats()
    w.worded("finding", "somewhere near the tip", what="dent")
    w.box("application", "outer", (0, 0, 400, 1000), coats=[{"number": 1}])
    geometry = plate_geometry(alloy="", gauge=None)
    one = estimate(book_of(w.made, geometry))
    panel = one.panel("p1", "plate", "inboard", "outer")
    assert panel is not None
    topics = {u.topic for u in one.unknowns}
    assert topics == {"shape", "coats", "gauge", "alloy", "inspection", "trial", "tests", "record"}
    texts = [u.text for u in one.unknowns]
    assert any("± 2 % (tape)" in t for t in texts)
    assert any("Nobody has looked at 1.19 m²" in t for t in texts)
    assert any("No trial patch" in t for t in texts)
    assert any("not tested for lead or chromate" in t for t in texts)
    assert any("No coat zone on 0.790 m²" in t for t in texts)
    assert any("what was left is not said of 1 go, counted" in t for t in texts)
    assert any("words for a place" in t for t in texts)
    assert all(u.to_do for u in one.unknowns)


def test_gaps_close_when_they_are_recorded() -> None:
    w = Writer()
    whole = (0, 0, 1200, 1000)
    thick = [{"kind": "enamel", "thickness": Measured(45.0, 5.0)}]
    tests = {"lead_test": "not found", "chromate_test": "found"}
    w.box("coat zone", "outer", whole, coats=thick, **tests)
    w.box("inspected area", "outer", whole, technique="eye")
    w.box("trial patch", "outer", (0, 0, 100, 100), method="chemical")
    one = estimate(book_of(w.made))
    panel = one.panel("p1", "plate", "inboard", "outer")
    assert panel is not None
    assert panel.unknowns == ()
    assert middle(one, "paint_waste") == pytest.approx(1.19 * 45 * 1.4 / 1000, rel=1e-6)


def test_what_remains_after_the_goes_so_far() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 400, 1000), coats=[{"kind": "enamel"}, {"kind": "enamel"}])
    w.box("application", "outer", (0, 0, 200, 1000), coats=[{"number": 1}], left_fraction=0)
    book = book_of(w.made, settings=EXAMPLE)
    # Coat 1 is left on half, coat 2 on all of .4 m2: 1.5 coats' worth of area.
    left = estimate(book, scope="remaining")
    all_of_it = estimate(book)
    assert middle(left, "wetted_area") == pytest.approx(
        0.75 * middle(all_of_it, "wetted_area"), rel=1e-6
    )
    w.box("application", "outer", (0, 0, 400, 1000), coats=[{"kind": "enamel"}], left_fraction=0)
    w.box("paint application", "outer", (0, 0, 400, 1000), coat="primer")
    done = estimate(book_of(w.made, settings=EXAMPLE), scope="remaining")
    assert done.lines == ()
    assert done.parts[0].panels[0].lines == ()


def test_two_stacks_side_by_side_are_taped_once_round() -> None:
    w = Writer()
    w.box("coat zone", "outer", (0, 0, 200, 1000), finish_system="f-enamel")
    w.box("coat zone", "outer", (200, 0, 400, 1000), finish_system="f-five")
    one = estimate(book_of(w.made, settings=EXAMPLE))
    assert middle(one, "tape") == pytest.approx(2.8 / 20, rel=1e-6)


def test_the_same_book_gives_the_same_numbers() -> None:
    book = book_of(five_coats().made)
    one, two = estimate(book).frame(), estimate(book).frame()
    assert one.equals(two)


def test_no_coat_zone_no_lines() -> None:
    one = estimate(book_of())
    assert one.lines == ()
    assert one.frame().empty
    assert one.cautions  # the first caution of all is always there
    assert one.not_counted
    assert estimate(book_of(), ()).parts == ()
    shapeless = book_of(parts=(Part("p1", "j1", "a1", "casting"),))
    assert any("has no shape" in u.text for u in estimate(shapeless).unknowns)


def test_cautions_and_advice_of_a_control_surface_of_thin_sheet() -> None:
    w = five_coats()
    w.box("blasting round", "outer", (0, 0, 50, 50), media="plastic media")
    hinge = MapLine("hinge", "hinge line", "plate", MultiLineString(), space=np.zeros((2, 3)))
    geometry = replace(plate_geometry(thin=True), lines=(hinge,), bearings_inside=True)
    one = estimate(book_of(w.made, geometry))
    keys = {c.key for c in one.cautions}
    assert {"defer", "thin", "balance", "bearings", "methylene chloride", "rinse water"} <= keys
    panel = one.parts[0].panels[0]
    assert "never blasted" in panel.advice.words
    assert any("blasting round is recorded on thin" in u.text for u in panel.unknowns)


def test_media_that_is_out_for_the_sheet_is_listed() -> None:
    """Sand is for steel only (common practice, no source)."""
    w = five_coats()
    w.box("blasting round", "outer", (0, 0, 50, 50), media="sand")
    w.box("blasting round", "outer", (60, 0, 90, 50), media="glass bead")
    book = book_of(w.made, plate_geometry(alloy="2024-T3", gauge=1.2))
    texts = [u.text for u in estimate(book).parts[0].panels[0].unknowns]
    assert any("with sand" in t and "steel only" in t for t in texts)
    assert not any("with glass bead" in t for t in texts)
    steel = book_of(w.made, plate_geometry(alloy="4130 steel", gauge=1.2))
    assert not any("with sand" in u.text for u in estimate(steel).parts[0].panels[0].unknowns)


def test_formulas_and_basis_are_in_the_shops_units() -> None:
    book = book_of(five_coats().made, shop=Shop("s1", "Test shop", units="inch"))
    line = estimate(book).parts[0].panels[0].line("apply")
    assert line is not None
    assert "ft²/h" in line.basis[0]
    assert "11 m²/h" not in " ".join(line.basis)
    # The numbers put in give the number printed: 118 ft2/h into the wetted area.
    area, rate = line.inputs
    assert area.value / rate.value == pytest.approx(line.middle, rel=1e-12)
    assert re.search(r"ft²$", area.words(Units("inch")))
    # In feet and gallons the line of the stripper works out as well (1 mm is 1 L/m2).
    inch = Units("inch")
    stripper = estimate(book).parts[0].panels[0].line("stripper")
    assert stripper is not None
    wetted, film, drip = stripper.inputs
    gallons = inch.number(wetted.value, wetted.unit) * inch.number(film.value, film.unit)
    assert gallons / (1 - drip.value) == pytest.approx(inch.number(stripper.middle, "L"), rel=1e-9)


@pytest.mark.parametrize(
    "name", ["stripper", "labour", "apply", "rinse", "tape", "sludge", "primer"]
)
def test_numbers_put_in_give_the_number_printed(name: str) -> None:
    line = estimate(book_of(five_coats().made)).parts[0].panels[0].line(name)
    assert line is not None
    v = [i.value for i in line.inputs]
    worked = {
        "stripper": lambda: v[0] * v[1] / (1 - v[2]),
        "labour": lambda: sum(v),
        "apply": lambda: v[0] / v[1],
        "rinse": lambda: v[0] / v[1],
        "tape": lambda: v[0] / v[1],
        "sludge": lambda: v[0] + v[1] * v[2] * (1 - v[3]),
        "primer": lambda: v[0] / (v[3] * v[4]),
    }[name]()
    assert line.middle == pytest.approx(worked, rel=1e-9)


def test_what_is_refused() -> None:
    book = book_of(five_coats().made)
    with pytest.raises(MapperError, match="whole, remaining"):
        estimate(book, scope="half")
    with pytest.raises(MapperError, match="p7"):
        estimate(book, ["p7"])
    with pytest.raises(MapperError, match="No setting"):
        estimate(book_of(settings={"estimate.nonsense": 1}))


def test_openings_are_worked_round_but_not_on() -> None:
    w = Writer()
    w.shape(
        "coat zone", "outer", shapely.MultiPolygon([shapely.box(0, 0, 1200, 1000)]), unknown=True
    )
    one = estimate(book_of(w.made))
    assert middle(one, "stripped_area") == pytest.approx(1.19, rel=1e-6)
    tape = one.parts[0].panels[0].line("tape")
    assert tape is not None
    assert tape.inputs[0].value == pytest.approx(4.4 + 0.4, rel=1e-6)  # outside and round the hole


def test_what_is_left_is_taped_along_the_edge_of_the_zones_alone() -> None:
    """A zone 1200 x 1000 mm less a hole of 100 x 100 has 4.8 m of edge. A window of 800 x 400
    stripped in its middle, beside the hole, has 2.4 m that nobody tapes; a strip of 200 along its
    left end takes 1.4 m of the edge off and leaves a border of 1 m."""
    for box, edge, round_it in (
        ((100, 50, 900, 450), 4.8, 7.2),
        ((0, 0, 200, 1000), 4.8 - 1.4, 4.8 - 0.4),
    ):
        w = Writer()
        w.box("coat zone", "outer", (0, 0, 1200, 1000), finish_system="f-enamel")
        for _ in range(4):
            w.box("application", "outer", box, left_fraction=0.0)
        book = book_of(w.made, settings=EXAMPLE)
        left = estimate(book, scope="remaining").panel("p1", "plate", "inboard", "outer")
        assert left is not None
        tape, wetted = left.line("tape"), left.line("wetted_area")
        assert tape is not None and wetted is not None
        assert tape.middle == pytest.approx(edge / 20, rel=1e-6)
        given = {i.label: i.value for i in wetted.inputs}
        assert given["perimeter"] == pytest.approx(round_it, rel=1e-6)
