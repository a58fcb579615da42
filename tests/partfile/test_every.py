"""Ribs, stringers and rivet rows at every so many inches: each is one with its own name."""

from __future__ import annotations

import pytest

from mapper.job.partfile.build import build
from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read_text

WING = """
units = "in"
part = "wing"
shape = "loft"
[measured]
how = "tape"
tolerance = 2
[[section]]
station = 22
chord = 60
profile = "2412"
[[section]]
station = 172
chord = 40
"""


def rows(text: str, table: str):  # type: ignore[no-untyped-def]
    return getattr(read_text(f"{WING}[[{table}]]\n{text}"), table)


def test_ribs_every_so_many_inches() -> None:
    ribs = rows('name = "rib"\nevery = "1 ft 2"\nfrom_station = 30\nto_station = 100', "rib")
    # 30, 44, ... 100: the last one is there, 14 in after the one before.
    assert [r.name for r in ribs] == [f"rib {i}" for i in range(1, 7)]
    assert [r.station / 25.4 for r in ribs] == pytest.approx([30, 44, 58, 72, 86, 100])
    short = rows(
        'name = "rib"\nevery = 14\nfrom_station = 30\nto_station = 99\nfirst_number = 3', "rib"
    )
    assert [r.name for r in short] == ["rib 3", "rib 4", "rib 5", "rib 6", "rib 7"]
    whole = rows('name = "rib"\nevery = 75', "rib")
    assert [r.station / 25.4 for r in whole] == pytest.approx([22, 97, 172])


def test_stringers_and_rivet_rows() -> None:
    ends = "from_station = 30\nto_station = 160\nfrom_chord = 20\nto_chord = 44\n"
    found = rows(f'name = "stringer"\nevery = 8\n{ends}side = "upper"', "stringer")
    assert [(s.name, s.from_chord, s.to_chord) for s in found] == [
        (f"stringer {i}", c, c) for i, c in ((1, 20), (2, 28), (3, 36), (4, 44))
    ]
    assert {s.from_station for s in found} == {30 * 25.4} and {s.side for s in found} == {"upper"}
    across = rows(f"every = 26\npitch = 1\n{ends}", "rivet_row")
    assert [(r.name, round(r.from_station / 25.4), r.to_chord) for r in across] == [
        (f"rivets {i}", 30 + 26 * (i - 1), 44) for i in range(1, 7)
    ]
    assert all(r.from_station == r.to_station for r in across)
    made = build(read_text(f"{WING}[[rivet_row]]\nevery = 65\npitch = 1\n{ends}"), triangles=2000)
    assert [line.name for line in made.lines] == ["rivets 1", "rivets 2", "rivets 3"]


@pytest.mark.parametrize(
    ("text", "table", "says"),
    [
        ('name = "rib"', "rib", "rib 1, station: it is missing in rib 1"),
        ('name = "rib"\nevery = 5\nstation = 40', "rib", "both station and every"),
        ('name = "rib"\nstation = 40\nto_station = 60', "rib", "`every` is needed with it"),
        ('name = "rib"\nevery = 0', "rib", "more than 0"),
        ('name = "rib"\nevery = 0.1', "rib", "it gives 1501 of them; up to 200"),
        (
            'name = "rib"\nevery = 5\nfrom_station = 90\nto_station = 40',
            "rib",
            "not beyond from_st",
        ),
        ('name = "rib"\nevery = 90\nfrom_station = 10', "rib", "10 in is outside the part"),
        ('name = "s"\nevery = 8\nfrom_chord = 20\nto_chord = 40', "stringer", "from_station, to_s"),
        ('along = "rib"\nevery = 8\npitch = 1', "rivet_row", "both along and every"),
    ],
)
def test_what_is_no_row_of_rows(text: str, table: str, says: str) -> None:
    with pytest.raises(PartFileError) as caught:
        rows(text, table)
    assert says in caught.value.text()


def test_a_name_that_a_number_makes_twice_is_refused() -> None:
    twice = '[[rib]]\nname = "rib"\nevery = 50\n[[rib]]\nname = "rib 2"\nstation = 60\n'
    with pytest.raises(PartFileError, match="already the name"):
        read_text(WING + twice)
