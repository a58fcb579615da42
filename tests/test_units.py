"""Units shown, labelled and read. Exact factors are those of the international yard and pound
agreement of 1959 (1 in = 25.4 mm, 1 lb = 0.45359237 kg) and of the US gallon (231 in3), from memory
of NIST Special Publication 811; they are exact by definition."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.quantities import WORDS
from mapper.units import GAP, QUANTITIES, Units, _line, count_of, grouped, plain_number, rounded

M, I = Units("metric"), Units("inch")  # noqa: E741

EXACT = [  # (unit, inside, inch)
    ("mm", 25.4, 1.0),
    ("m", 0.3048, 1.0),
    ("um", 25.4, 1.0),
    ("mm2", 92903.04, 1.0),
    ("L", 3.785411784, 1.0),
    ("kg", 0.45359237, 1.0),
    ("C", 100.0, 212.0),
    ("C", -40.0, -40.0),
    ("kg/h", 181.436948, 400.0),
    ("m2/h", 0.09290304, 1.0),
    ("1/m2", 1 / 0.09290304, 1.0),
    ("bar", 4.4482216152605 / 645.16 * 10, 1.0),  # lbf by standard gravity 9.80665 m/s2
    ("N m", 4.4482216152605 * 0.0254, 1.0),
    ("min", 60.0, 60.0),
    ("%", 12.0, 12.0),
]


@pytest.mark.parametrize(("unit", "inside", "inch"), EXACT)
def test_inch_factors(unit: str, inside: float, inch: float) -> None:
    assert I.number(inside, unit) == pytest.approx(inch, rel=1e-12)
    assert I.inside(inch, unit) == pytest.approx(inside, rel=1e-12)


def test_powers_of_ten_are_exact_to_the_last_bit() -> None:
    for value in (5.0, 33.0, 450.0, 1234.5, 987654.321):
        assert M.number(value, "mm2") == float(Fraction(value) / 10**6)


def test_spreading_rate_in_us_units() -> None:
    # 1604.17 ft2/US gal is 1 L/m2 of solids at 1 mil: 231 x 1000 / 144 (identity).
    per_mil = I.number(1000 / 25.4, "m2/L")  # m2/L of pure solids at 25.4 um
    assert per_mil == pytest.approx(231 * 1000 / 144, rel=1e-9)


def test_blasting_flow_as_the_handbook_gives_it() -> None:
    # 400 lb/h per nozzle at 40 psi (TM 1-1500-344-23-2) is 181.437 kg/h.
    assert I.parse("400", "kg/h") == pytest.approx(181.437, abs=5e-4)
    assert I.show(181.437, "kg/h") == "400 lb/h"


@pytest.mark.parametrize("unit", QUANTITIES)
def test_every_factor_is_pints(unit: str) -> None:
    # pint is the reference library here; with fractions it is exact to the last digit.
    registry = pint.UnitRegistry(non_int_type=Fraction)
    quantity = QUANTITIES[unit]
    ways = {w.pint for w in (*quantity.metric, *quantity.inch)}
    ways |= {WORDS[word] for word in quantity.words if word in WORDS}
    for way in ways:
        for source, target in ((quantity.inside, way), (way, quantity.inside)):
            factor, offset = _line(source, target)[2:]
            for number in (0, 1, 7):
                there = registry.Quantity(Fraction(number), source).to(target).magnitude
                assert there == factor * number + offset, (source, target)


@pytest.mark.parametrize(
    ("value", "unit", "metric", "inch"),
    [
        (3.2e6, "mm2", "3.20 m²", "34.4 ft²"),
        (450, "mm2", "450 mm²", "0.698 in²"),
        # Small areas change their unit at 0.01 m² and 0.1 ft².
        (9999, "mm2", f"9{GAP}999 mm²", "0.108 ft²"),
        (10000, "mm2", "0.0100 m²", "0.108 ft²"),
        (9290, "mm2", f"9{GAP}290 mm²", "14.4 in²"),
        (0, "mm2", "0 m²", "0 ft²"),
        (1234567, "mm", f"1{GAP}234{GAP}567 mm", f"48{GAP}605 in"),
        (1234.5678, "mm", f"1{GAP}235 mm", "48.6 in"),
        (125, "um", "125 µm", "4.92 mil"),
        (17.57, "L", "17.6 L", "4.64 US gal"),
        (-0.448, "kg", "-0.448 kg", "-0.988 lb"),
        (20, "C", "20.0 °C", "68.0 °F"),
        (5.2, "m2/L", "5.20 m²/L", "212 ft²/US gal"),
        (7.489, "1/m2", "7.49 /m²", "0.696 /ft²"),
        (2, "", "2.00", "2.00"),
    ],
)
def test_every_number_shows_its_unit(value: float, unit: str, metric: str, inch: str) -> None:
    assert M.show(value, unit) == metric
    assert I.show(value, unit) == inch


@pytest.mark.parametrize(
    ("value", "tolerance", "text"),
    [
        (3.2, 0.064, "3.20"),
        (3.2, 0.32, "3.2"),
        (3.2, 0.16, "3.20"),
        (3.2, 2.0, "3"),
        (15.29878, 0.306, "15.3"),
        (123456, 5000, f"123{GAP}000"),
        (123456, 96, f"123{GAP}460"),
        (0.0004, 0.02, "0.00"),
        (-0.0004, 0.02, "0.00"),
        (0.68, 0.0539, "0.68"),
        (3.2, 0, "3.20"),
        (3.2, None, "3.20"),
        (12.33, None, "12.3"),
        (99.96, None, "100.0"),
        (999.9, None, f"1{GAP}000"),
        (-0.0, None, "0"),
    ],
)
def test_digits_end_where_the_tolerance_begins(
    value: float, tolerance: float | None, text: str
) -> None:
    assert rounded(value, tolerance) == text


@given(st.floats(-1e9, 1e9), st.floats(1e-6, 1e6))
@example(3.2, 0.096)
def test_rounding_never_moves_a_number_by_more_than_half_its_tolerance(
    value: float, tolerance: float
) -> None:
    shown = float(rounded(value, tolerance).replace(GAP, ""))
    assert abs(shown - value) <= 0.51 * tolerance + 1e-9 * abs(value)


def test_with_tolerance_and_measured() -> None:
    assert M.with_tolerance(3.2e6, "mm2", 2) == "3.20 m² ± 2 %"
    assert I.with_tolerance(3.2e6, "mm2", 2) == "34.4 ft² ± 2 %"
    assert M.with_tolerance(3.2e6, "mm2", 0) == "3.20 m² ± 0 %"
    assert M.measured(0.12, 0.02, "mm") == "0.12 ± 0.02 mm"
    assert M.measured(0.12, None, "mm") == "0.120 mm"
    assert I.measured(20, 2, "C") == "68 ± 4 °F"
    assert M.measured(85, 5, "um") == "85 ± 5 µm"


def test_columns_have_one_unit() -> None:
    # 144 in2 to the square foot.
    foot = 92903.04
    assert I.column([foot, foot / 144], "mm2") == ["144 in²", "1.00 in²"]
    assert I.column([48 * foot, foot / 144], "mm2") == ["48.0 ft²", "0.00694 ft²"]
    assert I.column([3 * foot, foot], "mm2") == ["3.00 ft²", "1.00 ft²"]
    assert I.column([foot / 144, foot / 72], "mm2") == ["1.00 in²", "2.00 in²"]
    assert I.column([3 * foot], "mm2", 20.0) == ["3.0 ft²"]
    assert M.column([], "mm2") == []
    assert (M.label("mm2"), I.label("mm2")) == ("m²", "ft²")
    assert M.show(450, "mm2", with_label=False) == "0.000450"
    assert M.number(450, "mm2") == pytest.approx(0.00045)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12", "mm", 12.0),
        (" 12.5 mm ", "mm", 12.5),
        ("12.5mm", "mm", 12.5),
        ("1.2 m", "mm", 1200.0),
        ("3/32 in", "mm", 2.38125),
        ('1 1/4"', "mm", 31.75),
        ("1-1/4 in", "mm", 31.75),
        ("-1/2 in", "mm", -12.7),
        ("6'", "mm", 1828.8),
        ("5 mil", "um", 127.0),
        ("85 μm", "um", 85.0),
        ("85 µm", "um", 85.0),
        ("3.2 m²", "mm2", 3.2e6),
        ("3.2 m2", "mm2", 3.2e6),
        ("10 sq in", "mm2", 6451.6),
        ("1 US gal", "L", 3.785411784),
        ("250 ml", "L", 0.25),
        ("68 °F", "C", 20.0),
        ("1.5 h", "min", 90.0),
        ("40 psi", "bar", 2.7579029),
        ("1 234 567.5", "mm", 1234567.5),
        (f"1{GAP}234", "mm", 1234.0),
        ("1e3", "mm", 1000.0),
        (".5", "", 0.5),
        ("61 % IACS", "%IACS", 61.0),
        ("2 ft 6", "mm", 762.0),
        ("2ft6", "mm", 762.0),
        ("4 ft 2 1/2", "mm", 1282.7),
        ("6'-3 1/2\"", "mm", 1917.7),
        ("-2 ft 6 in", "mm", -762.0),
        ("1 m 20 cm", "mm", 1200.0),
        ("5 117/128 in", "mm", 150.2171875),
        ("1 h 20 min", "min", 80.0),
        ("1 h 20", "min", 80.0),
        ("1 h 20 min 30 s", "min", 80.5),
        ("2 lb 3 oz", "kg", 0.45359237 * 35 / 16),
        # US liquid measure: a gallon of 231 cubic inches is 4 quarts, 8 pints, 128 fluid ounces.
        ("1 qt", "L", 231 * 0.0254**3 * 1000 / 4),
        ("1 qt 1 pt", "L", 231 * 0.0254**3 * 1000 * 3 / 8),
        ("16 fl oz", "L", 231 * 0.0254**3 * 1000 / 8),
        ("16 fl. oz.", "L", 231 * 0.0254**3 * 1000 / 8),
        ("2 gallons", "L", 2 * 231 * 0.0254**3 * 1000),
        ("2 hrs", "min", 120.0),
        ("1 hr 20", "min", 80.0),
        ("1.5 hr.", "min", 90.0),
        ("1:20", "min", 80.0),
        ("0:45", "h", 0.75),
    ],
)
def test_what_people_type_is_read(text: str, unit: str, value: float) -> None:
    assert M.parse(text, unit) == pytest.approx(value, rel=1e-7)


def test_a_bare_number_is_in_the_shops_unit() -> None:
    assert I.parse("1", "mm") == 25.4
    assert I.parse("3/32", "mm") == 2.38125
    assert I.parse("1", "um") == 25.4
    assert I.parse("68", "C") == 20.0
    assert I.parse("3.2", "mm2") == pytest.approx(3.2 * 92903.04)


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("1,5", "mm", r"has a comma.*decimal point.*Type '1\.5'"),
        ("1,234.5", "mm", "has a comma"),
        ("wide", "mm", "is no number"),
        ("", "mm", "is no number"),
        ("5 kg", "mm", "'kg' is no unit for this.*mm, cm"),
        ("5 furlongs", "mm", "no unit"),
        ("5 __import__('os')", "mm", "no unit"),
        ("5 mm", "", "It has no unit"),
        ("1/0", "mm", "divides by nothing"),
        ("1e999", "mm", "too large"),
        ("-1e308 m", "mm", "too large"),
        (f"1/{'1' * 5000}", "mm", "too large"),
        ("nan", "mm", "is no number"),
        ("12 34", "mm", "no unit"),
        ("2 ft 14", "mm", "does not add up"),
        ("2 ft 12", "mm", "does not add up"),
        ("1 h 60", "min", "does not add up"),
        ("2.5 ft 6", "mm", "does not add up"),
        ("6 in 2 ft", "mm", "does not add up"),
        ("2 m 6", "mm", "does not say what the 6 is in"),
        ("2 ft -6", "mm", "no unit"),
        ("2 ft 6 kg", "mm", "'kg' is no unit"),
        ("1:20", "mm", "is no number|no unit"),
        ("1:75", "min", "is no number|no unit"),
        ("3 oz", "L", "'oz' is no unit for this.*us gal.*written fl oz.*oz is a weight"),
        ("3 fl oz", "kg", "It is a weight, in lb or oz"),
        ("1 gal", "kg", "It is a weight, in lb or oz"),
        ("1 l", "kg", "It is a weight, in kg or g"),
        ("2 kg", "L", "It is a volume.*field for weight"),
        ("2 lb", "L", "It is a volume.*field for weight"),
        ("40 lb", "bar", "to the square inch are written psi"),
        ("2 gals", "L", "Did you mean 'gal"),
        ("2 hous", "min", "Did you mean 'hour"),
        ("40 lbs", "bar", "to the square inch are written psi"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(text: str, unit: str, says: str) -> None:
    with pytest.raises(MapperError, match=says):
        M.parse(text, unit)


_WAYS = [("ft", "in", 12, "mm"), ("'", '"', 12, "mm"), ("feet", "", 12, "mm"),
         ("h", "min", 60, "min"), ("hours", "", 60, "min")]  # fmt: skip


@given(
    way=st.sampled_from(_WAYS),
    large=st.integers(0, 99),
    rest=st.fractions(0, 59, max_denominator=64),
    minus=st.booleans(),
    units=st.sampled_from([M, I]),
    gap=st.sampled_from([" ", ""]),
)
def test_two_units_in_a_row_are_their_sum(way, large, rest, minus, units, gap) -> None:  # type: ignore[no-untyped-def]
    # 12 in to the foot, 60 min to the hour (definitions); the sum in exact fractions.
    big, small, step, unit = way
    rest %= step
    top = f"{rest.numerator}/{rest.denominator}" if rest.denominator > 1 else f"{rest.numerator}"
    if rest > 1 and rest.denominator > 1:
        top = f"{int(rest)} {rest.numerator % rest.denominator}/{rest.denominator}"
    text = f"{'-' * minus}{large}{gap}{big} {top}{gap}{small}"
    value = (large * step + rest) * (Fraction("25.4") if unit == "mm" else 1)
    assert units.parse(text, unit) == float(-value if minus else value)


@given(st.sampled_from(["mm", "um", "min", "kg", "L", "C", "bar"]), st.integers(1, 99999),
       st.integers(0, 4))  # fmt: skip
def test_typed_digits_come_back_in_both_systems(unit: str, digits: int, places: int) -> None:
    typed = plain_number(digits / 10**places, 5)
    for ours, other in ((I, M), (M, I)):
        value = ours.parse(typed, unit)
        assert ours.exact(value, unit) == f"{typed} {ours.label(unit)}"
        # In the other system the value is never lost, and no reader meets more than 7 digits.
        assert other.parse(other.exact(value, unit), unit) == value
        numbers = re.findall(r"[\d.\u202f]+", other.told(value, unit))
        assert all(len(n.replace(".", "").replace(GAP, "").strip("0")) <= 7 for n in numbers)


def test_a_value_of_the_other_system_is_told_in_both() -> None:
    assert I.told(0.12, "mm") == "0.004724 in (0.12 mm)"
    assert I.told(0.127, "mm") == "0.005 in"
    assert I.exact(0.12, "mm") == "0.12 mm"
    assert M.told(1500.1875, "mm") == f"1{GAP}500 mm (59.0625 in)"
    assert I.told(25.4 / 3, "mm") == "0.3333 in"
    assert I.exact(5.0, "C", width=True) == "9 °F"


def test_small_measures_of_a_liquid_are_told_as_they_were_typed() -> None:
    assert I.told(I.parse("3 fl oz", "L"), "L") == "3 US fl oz"
    assert I.exact(I.parse("2 qt", "L"), "L") == "0.5 US gal"
    assert I.told(0.25, "L") == "0.06604 US gal (0.25 L)"
    assert M.told(0.25, "L") == "0.25 L"


def test_a_difference_of_temperatures_has_no_zero_point() -> None:
    assert M.parse_width("9 °F", "C") == pytest.approx(5.0)
    assert I.parse_width("9", "C") == pytest.approx(5.0)
    assert M.parse_width("2", "C") == 2.0


@pytest.mark.parametrize("unit", QUANTITIES)
@pytest.mark.parametrize("units", [M, I], ids=["metric", "inch"])
@given(value=st.floats(1e-4, 1e8))
def test_exact_is_read_back(units: Units, unit: str, value: float) -> None:
    again = units.parse(units.exact(value, unit), unit)
    assert again == pytest.approx(value, rel=1e-14 if units == M else 1e-9, abs=0)


@pytest.mark.parametrize("unit", QUANTITIES)
def test_what_is_shown_can_be_typed(unit: str) -> None:
    for units in (M, I):
        for value in (7.0, 7000.0, 7e7):
            again = units.parse(units.show(value, unit, digits=9), unit)
            assert again == pytest.approx(value, rel=1e-6)


def test_grouping_and_plain_numbers() -> None:
    assert grouped("-12345.678") == f"-12{GAP}345.678"
    assert grouped("999") == "999"
    assert plain_number(0.00000012) == "0.00000012"
    assert plain_number(1e21) == "1" + "0" * 21
    assert plain_number(-0.0) == "0"
    assert plain_number(1 / 3, 4) == "0.3333"


def test_a_count_goes_with_its_word() -> None:
    assert [count_of(n, "coat") for n in (0, 1, 2)] == ["0 coats", "1 coat", "2 coats"]
    assert count_of(1, "entry", "entries") == "1 entry"
    assert count_of(1200, "entry", "entries") == f"1{GAP}200 entries"


def test_wrong_units_are_refused() -> None:
    with pytest.raises(MapperError, match="metric"):
        Units("yards")
    with pytest.raises(MapperError, match="no unit 'cubit'"):
        M.show(1, "cubit")
    for wrong in (math.nan, math.inf):
        with pytest.raises(MapperError, match="finite"):
            M.show(wrong, "mm")
