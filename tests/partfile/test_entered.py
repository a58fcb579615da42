"""Parts whose area is entered: the area is the proportion the values give, and it says how."""

from __future__ import annotations

import pytest

from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.partfile.show import shape_lines
from mapper.job.partfile.table import area_table
from mapper.job.partfile.words import example
from mapper.surface.measure import whole_area
from mapper.surface.version import from_bytes, to_bytes
from mapper.units import Units

FOIL = example("casting")
REST = '\n[measured]\nhow = "{how}"\ntolerance = 8\n'


def made(how: str, values: str, units: str = "mm"):
    head = f'units = "{units}"\npart = "arm"\nshape = "casting"\n'
    return build(read_text(head + values + REST.format(how=how)))


def test_foil_is_a_proportion_of_masses() -> None:
    geometry = build(read_text(FOIL))
    # 2.31 g of foil of which 100 cm2 weigh .43 g: 537.2 cm2.
    assert whole_area(geometry.skins[0]) == pytest.approx(2.31 / 0.43 * 10_000.0, rel=1e-9)
    assert geometry.tolerance.how == "foil"
    assert geometry.tolerance.percent == 10.0


def test_weight_is_both_sides_of_the_walls() -> None:
    """A plate 100 x 50 x 4 mm of density 2.7 weighs 54 g and has 2 x 5,000 mm2."""
    geometry = made("weight", "mass = 54\ndensity = 2.7\nthickness = 4")
    assert whole_area(geometry.skins[0]) == pytest.approx(10_000.0, rel=1e-9)
    inches = made("weight", 'mass = 54\ndensity = 2.7\nthickness = "4"', "in")
    assert whole_area(inches.skins[0]) == pytest.approx(10_000.0 / 25.4, rel=1e-9)


def test_templates_are_entered_as_they_are_in_the_files_units() -> None:
    assert whole_area(made("template", "area = 1234").skins[0]) == pytest.approx(1234.0, rel=1e-9)
    inches = made("template", "area = 12", "in")
    assert whole_area(inches.skins[0]) == pytest.approx(12 * 645.16, rel=1e-9)


def test_it_has_one_face_with_the_uncertainty_and_says_how_it_was_found() -> None:
    spec = read_text(FOIL)
    geometry = build(spec)
    table = area_table(geometry)
    assert list(table["face"]) == ["surface", "surface"]
    whole = table.iloc[0]
    assert whole["low"] == pytest.approx(0.9 * whole["area_mm2"])
    assert whole["high"] == pytest.approx(1.1 * whole["area_mm2"])
    text = " ".join(" ".join(shape_lines(spec, geometry, Units("metric"))).split())
    assert "foil" in text and "± 10 %" in text and "2.31 g of foil" in text
    assert "laid flat" not in text
    kept = from_bytes(to_bytes(geometry))
    assert kept.tolerance == geometry.tolerance
    assert kept.counted == geometry.counted


def test_an_area_that_claims_too_much_is_warned_of() -> None:
    spec = read_text(FOIL.replace("tolerance = 10", "tolerance = 1", 1))
    assert [w.key for w in spec.warnings] == ["measured, tolerance"]
