"""Blasting beside stripping, and what comes after: brightener, conversion coat, topcoat."""

from __future__ import annotations

import pytest

from mapper.estimate.estimate import Estimate, estimate
from tests.estimate.books import Writer, book_of, plate_geometry

# The worked examples' rates as a shop's own figures (invented inputs).
EXAMPLE = {
    "estimate.coat_thickness": 40,
    "estimate.coat_density": 1.4,
    "estimate.scatter": 0,
    "estimate.blast_rate": 1000,
    "estimate.duty": 0.6,
    "estimate.breakdown": 0.08,
    "estimate.media_flow": 181.437,
    "estimate.conversion_coverage": 12,
    "estimate.brightener_left": 0.35,
    "estimate.brightener_goes": 2,
    "estimate.brightener_coverage": 5,
    "estimate.brightener_parts": 3,
    "estimate.topcoat_film": 50,
    "estimate.topcoat_solids": 50,
    "estimate.transfer": 0.55,
    "estimate.line_loss": 0.15,
    "estimate.kit": 1,
    "estimate.spray_rate": 0.14,
    "estimate.pot_life": 4,
}


def made(
    settings: dict[str, float] | None = None, state: str = "open", **sheet: object
) -> Estimate:
    """.8 m2 of five coats of 40 um, of which .17 m2 has corrosion on it."""
    w = Writer()
    w.box("coat zone", "outer", (1200, 0, 2000, 1000), finish_system="f-five")
    w.box("finding", "outer", (1300, 100, 1800, 440), what="corrosion")
    w.box("finding", "outer", (1300, 100, 1400, 440), what="corrosion")  # seen twice
    w.box("finding", "outer", (1300, 500, 1400, 840), what="dent")
    entries = [
        type(e)(**{**e.__dict__, "state": state}) if e.kind == "finding" else e for e in w.made
    ]
    shape = plate_geometry(**{"alloy": "2024-T3", "gauge": 1.0, **sheet})
    return estimate(book_of(entries, shape, settings=EXAMPLE | (settings or {})))


def middle(one: Estimate, quantity: str) -> float | None:
    panel = one.panel("p1", "plate", "outboard", "outer")
    assert panel is not None
    line = panel.line(quantity)
    return None if line is None else line.middle


def part(one: Estimate, quantity: str) -> float | None:
    return next((n.middle for n in one.parts[0].lines if n.quantity == quantity), None)


def test_blasting_as_in_the_worked_example() -> None:
    # Worked example: 2.4 m2 of 200 um take .8 h, 6.967 kg of media and .672 kg of paint; .8 m2 a
    # third of that.
    one = made()
    assert middle(one, "plastic_labour") == pytest.approx(0.8 / 3, abs=5e-5)
    assert middle(one, "plastic_media") == pytest.approx(6.967 / 3, abs=5e-4)
    assert middle(one, "plastic_dust") == pytest.approx((6.967 + 0.672) / 3, abs=5e-4)
    panel = one.panel("p1", "plate", "outboard", "outer")
    assert panel is not None
    texts = " ".join(c.text for c in panel.cautions)
    assert "penetrant inspection" in texts  # the cautions of what is printed are printed


def test_a_method_that_is_out_for_the_sheet_has_no_lines() -> None:
    assert middle(made(gauge=0.5), "plastic_labour") is None
    assert middle(made(), "sand_labour") is None
    assert middle(made(alloy="4130 steel"), "sand_labour") is not None
    assert middle(made(thin=True), "bead_labour") is None


def test_break_even_only_where_rigging_is_entered() -> None:
    assert part(made(), "break_even") is None
    one = made({"estimate.rig": 10})
    chemical, blasting = (part(one, q) for q in ("labour", "plastic_labour"))
    assert chemical is not None and blasting is not None
    # By the definition: 10 h over what is saved on each square metre.
    assert part(one, "break_even") == pytest.approx(10 / (chemical / 0.8 - blasting / 0.8))


def test_brightener_on_open_corrosion_alone_and_counted_once() -> None:
    # Worked example: .85 m2 take .2295 L of mix, .05738 L of concentrate; .17 m2 a fifth of that.
    one = made()
    assert middle(one, "corroded_area") == pytest.approx(0.17, rel=1e-9)
    assert middle(one, "brightener") == pytest.approx(0.2295 / 5, abs=5e-6)
    assert middle(one, "brightener_concentrate") == pytest.approx(0.05738 / 5, abs=5e-6)
    assert middle(made(state="closed"), "corroded_area") == 0.0


def test_hours_of_cleaning_corrosion_stand_only_at_the_shops_own_rate() -> None:
    """.17 m2 at a shop's own .02 m2/h (an invented rate) are 8.5 h; nobody's rate is assumed."""
    nobody = made().panel("p1", "plate", "outboard", "outer")
    assert nobody is not None
    line = nobody.line("corrosion_clean")
    assert line is not None and (line.low, line.high) == (0.0, 0.0)
    assert any("cleaning corrosion out" in text for text in made().not_counted)
    own = {"value": 0.02, "low": 0.01, "high": 0.04, "basis": "three logs of ours"}
    one = made({"estimate.corrosion_clean": own})
    assert middle(one, "corrosion_clean") == pytest.approx(0.17 / 0.02)
    panel = one.panel("p1", "plate", "outboard", "outer")
    assert panel is not None
    line = panel.line("corrosion_clean")
    assert line is not None
    # The range is that of the logs: these are its 10 % and 90 % points (no scatter is set here).
    assert (line.low, line.high) == pytest.approx((0.17 / 0.04, 0.17 / 0.01), rel=0.02)
    assert any("three logs of ours" in text for text in line.basis)
    labour = panel.line("labour")
    assert labour is not None and labour.middle == middle(made(), "labour")


def test_acids_and_conversion_coats_are_counted_on_aluminium_alone() -> None:
    for alloy in ("4130 steel", "AZ31 magnesium", ""):
        one = made(alloy=alloy)
        assert middle(one, "brightener") == 0.0
        assert middle(one, "conversion") == 0.0
        assert middle(one, "corroded_area") == pytest.approx(0.17, rel=1e-9)
    # Worked example: 3.2 m2 at 12 m2/L take .2933 L; .8 m2 a quarter of that.
    assert middle(made(), "conversion") == pytest.approx(0.2933 / 4, abs=5e-5)


def test_topcoat_as_in_the_worked_example() -> None:
    # Worked example: 6.4 m2 take 1.314 L with .15 L of line loss; .8 m2 an eighth of the rest.
    one = made()
    assert middle(one, "topcoat") == pytest.approx((1.314 - 0.15) / 8, abs=5e-4)
    assert middle(one, "topcoat_mass") == pytest.approx(0.8 * 0.070, rel=1e-9)
    assert part(one, "topcoat_mixed") == pytest.approx((1.314 - 0.15) / 8 + 0.15, abs=5e-4)
    assert part(one, "topcoat_pots") == 1


def test_lines_say_what_was_put_in() -> None:
    panel = made().panel("p1", "plate", "outboard", "outer")
    assert panel is not None
    line = panel.line("plastic_labour")
    assert line is not None
    assert {(i.label, round(i.value, 6)) for i in line.inputs} >= {
        ("area", 0.8),
        ("all coats", 200),
    }
    assert line.low < line.high or line.low == line.middle
