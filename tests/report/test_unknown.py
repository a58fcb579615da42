"""What is not known: what holds for several panels stands in one row."""

from __future__ import annotations

from typing import Any

from mapper.report.lookup import Lookup
from mapper.report.numbers import PartNumbers
from mapper.report.unknown import not_looked_at, others
from mapper.report.worth import Worth
from mapper.units import Units
from tests.report.books import shaped

UNITS = Units("metric")


def gap(part: str, panel: str, text: str, area: float = 0.0, topic: str = "coats") -> Any:
    return {"skin": "skin", "panel": panel, "face": "outer", "topic": topic, "text": text,
            "to_do": "Look.", "area_mm2": area, "part_id": part}  # fmt: skip


def rows(*gaps: Any) -> list[tuple[str, ...]]:
    parts: dict[str, Any] = {}
    for one in gaps:
        parts.setdefault(one["part_id"], {"unknowns": []})["unknowns"].append(one)
    table = others(Lookup(shaped()), UNITS, Worth({"parts": parts}))
    return [row for row in table.rows if "No coat zone is recorded" not in row[0]]


def test_the_same_sentence_of_two_panels_is_one_row_with_the_sum_of_areas() -> None:
    found = rows(
        gap("wing", "a", "No coat zone on 1.50 m²: not counted.", 1.5e6),
        gap("wing", "b", "No coat zone on 2.50 m²: not counted.", 2.5e6),
    )
    assert found == [
        ("No coat zone on 4.00 m²: not counted.", "Left outer wing, outer face: a; b", "Look.")
    ]


def test_other_sentences_and_other_things_to_do_stay_apart() -> None:
    one = gap("wing", "a", "No gauge.")
    assert len(rows(one, gap("wing", "b", "No alloy."), one | {"to_do": "Ask."})) == 3


def test_where_nobody_looked_stands_in_its_own_table_only() -> None:
    assert rows(gap("wing", "a", "Nobody looked.", 1.0, topic="inspection")) == []


def test_how_well_a_part_was_measured_is_not_said_again_but_a_lacking_shape_is() -> None:
    known = gap("wing", "", "Areas are known to ± 2 %.", topic="shape")
    lacking = gap("part", "", "Left has no shape: nothing is in the totals.", topic="shape")
    assert [row[0] for row in rows(known, lacking)] == [lacking["text"]]


def test_panels_that_nobody_looked_at_share_a_row_and_others_do_not() -> None:
    def row(panel: str, area: float, seen: float) -> Any:
        return {"skin": "skin", "panel": panel, "face": "outer", "area_mm2": area,
                "inspected_mm2": seen, "not_looked_at_mm2": area - seen}  # fmt: skip

    numbers = {
        "part": PartNumbers(),
        "wing": PartNumbers(ledger=(row("a", 1e6, 0), row("b", 2e6, 0), row("c", 4e6, 3e6))),
    }
    table = not_looked_at(Lookup(shaped()), numbers, UNITS)
    assert table.rows == (
        ("Left outer wing", "a; b", "outer", "3.00 m²", "100 %"),
        ("Left outer wing", "c", "outer", "1.00 m²", "25 %"),
    )


def test_a_gap_all_over_a_part_is_said_in_one_line_and_equal_faces_in_another() -> None:
    panels = ("inboard sheet", "outboard sheet")
    every = [
        gap("wing", panel, "Not tested.") | {"face": face}
        for panel in panels
        for face in ("outer", "inner")
    ]
    ((_, where, _),) = rows(*every)
    assert where == "every panel and face of Left outer wing"
    ((_, where, _),) = rows(*(one for one in every if one["panel"] == "inboard sheet"))
    assert where == "Left outer wing, outer and inner faces: inboard sheet"
    ((_, where, _),) = rows(*every[:3])
    assert where.split("\n") == [
        "Left outer wing, outer face: inboard sheet; outboard sheet",
        "Left outer wing, inner face: inboard sheet",
    ]
