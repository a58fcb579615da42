"""Mistakes of a part file that only the shape can tell."""

from __future__ import annotations

import pytest

from tests.partfile.makers import late

LATE = [
    (
        '[[opening]]\nname = "a"\nform = "round"\nat = [9000, 0]\ndiameter = 20\n',
        "at = ", "off the",
    ),
    (
        '[[opening]]\nname = "a"\nform = "round"\nstation = 1010\nchord = 50\nside = "upper"\n'
        "diameter = 200\n",
        "station = 1010", "lies off the sheet",
    ),
    (
        '[[opening]]\nname = "a"\nform = "round"\nat = [0, 0]\ndiameter = 2\nskin = "web"\n',
        "skin = ", "no skin",
    ),
    ('[[panel]]\nname = "a"\nat = [5000, 5000]\n', "at = ", "off the sheet"),
    (
        '[[panel]]\nname = "a"\nat = [500, 300]\n[[panel]]\nname = "b"\nat = [600, 300]\n',
        'name = "b"', "same sheet",
    ),
    (
        '[[seam]]\nname = "a"\nstation = 2000\nside = "lower"\nfrom_chord = 30\nto_chord = 60\n',
        "from_chord = 30", "cuts nothing off",
    ),
    (
        '[[rib]]\nname = "r"\nstation = 1500\nweb = true\n'
        "lightening_hole = [{ chord = 90, diameter = 60 }]\n",
        "lightening_hole = ", "leaves the rib",
    ),
    (
        '[[spar]]\nname = "s"\nchord = 50\nweb = true\n'
        "lightening_hole = [{ station = 2000, diameter = 500 }]\n",
        "lightening_hole = ", "lies off the sheet",
    ),
    ("[hinge_line]\nfrom_station = 500\nfrom_chord = 1\nto_station = 2000\nto_chord = 1\n",
     "from_station = 500", "outside the part"),
]  # fmt: skip


@pytest.mark.parametrize(("more", "line", "words"), LATE)
def test_what_only_the_shape_can_tell_has_its_line_too(more: str, line: str, words: str) -> None:
    where, message = late(more)
    assert where.startswith(line), message
    assert words in message


def test_a_shape_that_refuses_names_the_key() -> None:
    where, message = late("", top='trailing_edge_base = "counted"')
    assert where.startswith("trailing_edge_base")
    assert "closed" in message
