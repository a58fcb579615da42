"""The page of a part: tables for many panels, a few lines for one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from mapper.report.lookup import Lookup
from mapper.report.model import Beside, Facts, Figure, Table, Words
from mapper.report.numbers import PartNumbers
from mapper.report.partpage import (
    PartContent,
    _smoothed,
    first_page,
    is_one_panel,
    ledger_table,
    size_table,
    wholes_of,
)
from mapper.units import Units
from tests.report.books import shaped, wing

UNITS = Units("metric")
PANEL = wing().panels[0]


def done(panel: str, face: str, **areas: float) -> dict[str, Any]:
    names = ("painted", "unknown", "no_record", "stripped", "remaining", "masked", "inspected")
    made: dict[str, Any] = {f"{name}_mm2": 0.0 for name in names}
    made |= {f"{name}_mm2": area for name, area in areas.items()}
    whole = made.setdefault("area_mm2", 2e6)
    return made | {"skin": PANEL.skin, "panel": panel, "face": face,
                   "not_looked_at_mm2": whole - made["inspected_mm2"]}  # fmt: skip


def size(panel: str, stretch: str) -> dict[str, Any]:
    return {"skin": PANEL.skin, "panel": panel, "face": "outer", "developed_length_mm": 1000.0,
            "developed_width_mm": 500.0, "stretch": stretch}  # fmt: skip


def test_coats_that_nobody_spoke_of_are_not_printed_as_none_left() -> None:
    numbers = PartNumbers(
        ledger=(
            done("a", "outer", painted=2e6, stripped=1.5e6, remaining=0.5e6),
            done("b", "outer", no_record=2e6),
        )
    )
    here = frozenset((PANEL.skin, name, "outer") for name in "ab")
    table = ledger_table(numbers, wing(), UNITS, here)
    heads = [c.head for c in table.columns]
    rows = [dict(zip(heads, row, strict=True)) for row in table.rows]
    assert (rows[0]["Stripped"], rows[0]["Still coated"], rows[0]["Not said"]) == (
        "1.50", "0.500", "0",
    )  # fmt: skip
    assert (rows[1]["Stripped"], rows[1]["Still coated"], rows[1]["Not said"]) == ("-", "-", "2.00")
    assert (rows[2]["Panel"], rows[2]["Stripped"], rows[2]["Not said"]) == ("All", "1.50", "2.00")


def test_a_stretch_that_is_the_same_everywhere_is_said_once_and_in_the_shops_units() -> None:
    words = "at most 0.012 % in area, 0.014 % in length, worst at station 4,404 mm"
    numbers = PartNumbers(areas=(size("inboard sheet", words), size("outboard sheet", words)))
    table = size_table(numbers, wing(), Units("inch"))
    assert all(row[3] == "" for row in table.rows)
    (foot,) = table.foot
    assert foot.startswith("The flat map stretches at most 0.012 % in area")
    assert "station 173.4 in" in foot  # 4404 / 25.4 = 173.39
    differ = replace(numbers, areas=(*numbers.areas[:1], size("outboard sheet", "lies flat")))
    table = size_table(differ, wing(), UNITS)
    assert [row[3] for row in table.rows][1] == "lies flat" and table.foot == ()


def page_of(*ledger: dict[str, Any]) -> tuple[list[str], dict[str, str]]:
    """Captions of the tables, and the facts, of the page of the wing with these faces."""
    lookup = Lookup(shaped())
    areas = tuple(size(name, "lies flat") for name in dict.fromkeys(r["panel"] for r in ledger))
    numbers = PartNumbers(ledger=ledger, areas=areas)
    content = PartContent(
        lookup.part["wing"], numbers, (), (), frozenset({(PANEL.skin, "a", "outer")}), (), ()
    )
    blocks = first_page(content, {}, UNITS, lookup).blocks
    facts = dict(row for b in blocks if isinstance(b, Facts) for row in b.rows)
    return [b.caption for b in blocks if isinstance(b, Table)], facts


def test_one_panel_needs_no_tables_of_panels_and_its_silent_face_is_told() -> None:
    ledger = (done("a", "outer"), done("a", "inner"))
    assert is_one_panel(PartNumbers(ledger=ledger))
    tables, facts = page_of(*ledger)
    assert tables == []
    assert facts["Laid out flat"] == "1\u202f000 mm long, 500 mm wide; lies flat"
    assert facts["Nothing recorded"].startswith("inner (2.00 m²): that never means clean")
    tables, facts = page_of(*ledger, done("b", "outer"))
    assert len(tables) == 3 and "Nothing recorded" not in facts
    assert not is_one_panel(PartNumbers())


def test_how_smoothed_maps_are_made_is_told_where_there_is_one() -> None:
    said, how = Words("No place is told from another."), Words("How.", "quiet")
    assert _smoothed((said, how), alone=False) == (said,)
    assert _smoothed((said, how), alone=True) == ()
    figure = Figure(None, "A map.", "")  # type: ignore[arg-type]
    assert _smoothed((Beside(figure, (said,)), how), alone=True)[-1] == how
    assert _smoothed((), alone=False) == ()


def test_whole_maps_of_skins_on_which_something_is_recorded() -> None:
    """A skin of one panel is on that panel's page; a part that nobody recorded anything on has one
    map, so that it is seen that nobody looked."""
    lookup = Lookup(shaped())
    (part,) = (p for p in lookup.book.parts if lookup.geometry(p))
    sheets = lookup.sheets(part)
    face = sheets[0].face
    (whole,) = wholes_of(part, lookup, (sheets[0],))
    assert (whole.skin, whole.face, whole.region.is_empty) == (sheets[0].skin, face, True)
    (unseen,) = wholes_of(part, lookup, ())
    assert unseen.face == unseen.skin.face_names[0]

    geometry = lookup.geometry(part)
    assert geometry is not None
    plain = replace(geometry.skins[0], name="end plate")
    two = replace(geometry, skins=(*geometry.skins, plain))
    lookup = Lookup(replace(lookup.book, geometries={part.geometry: two}))
    sheets = lookup.sheets(part)
    of_plate = tuple(s for s in sheets if s.skin is plain)
    assert len(of_plate) == 2 and wholes_of(part, lookup, of_plate) == ()
    assert [s.skin for s in wholes_of(part, lookup, sheets[:1])] == [geometry.skins[0]]
