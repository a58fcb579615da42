"""Slips of people who write inches off a tape: each is told once, with what to write instead."""

from __future__ import annotations

import pytest

from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read, read_text

WING = """\
units = "in"
part = "outer wing"
shape = "loft"
rib = [
  { name = "rib 1", station = 20 },
  { name = "rib 2", station = "48 1/2" },
]
[measured]
how = "tape"
tolerance = 2
date = 2026-04-11
[[section]]
station = 0
chord = "5 ft 2 1/2"
profile = "2415"
[[section]]
station = 136
chord = 37
twist = -2
leading_edge_aft = "6 3/8"
[[spar]]
name = "front spar"
chord = 20
[sheet]
gauge = 0.032
"""


def told(old: str, new: str) -> tuple[str, ...]:
    """The one-line texts of all mistakes of the wing with one place of it written otherwise."""
    assert old in WING
    with pytest.raises(PartFileError) as refused:
        read_text(WING.replace(old, new))
    return tuple(m.text() for m in refused.value.mistakes)


def doubts(old: str, new: str) -> tuple[str, ...]:
    assert old in WING
    return tuple(w.text() for w in read_text(WING.replace(old, new)).warnings)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        # A number left alone would be inches: 4 in instead of 4 ft.
        ('chord = "5 ft 2 1/2"', "chord = 5 ft 2 1/2", "its unit in quotes"),
        ('chord = "5 ft 2 1/2"', "chord = 4 ft", "its unit in quotes"),
        ('chord = "5 ft 2 1/2"', "chord = 5'2", "its unit in quotes"),
        ('chord = "5 ft 2 1/2"', 'chord = "62 9/8"', "less than one"),
        ("twist = -2", "twist = 2 deg", "degrees as the number alone"),
        ("twist = -2", "twist = 2\u00b0", "degrees as the number alone"),
        ("twist = -2", 'twist = "2 1/2"', "without quotes: 2.5"),
        ("tolerance = 2", 'tolerance = "1/2"', "without quotes: 0.5"),
        ("date = 2026-04-11", "date = 11/04/2026", "dates as 2026-05-31"),
        ("station = 20 }", "station = 20, web = yes }", "true or false"),
        ("station = 20 }", 'station = 20, web = "yes" }', "Write true."),
        ("station = 20 },", "station = 20 }", "a comma behind it"),
        ("station = 20 },", "station = 20 ,", "a comma behind it"),
        ("gauge = 0.032", "gauge = 22 ga", "the thickness itself"),
        ("gauge = 0.032", 'gauge = "22 ga"', "the thickness itself"),
        ('units = "in"', 'units = "inches"', 'Did you mean "in"?'),
        ('shape = "loft"', 'shape = "wing"', 'Did you mean "loft"?'),
        ('shape = "loft"', 'shape = "xyzzy"', '"loft" or "rib"'),
    ],
)
def test_a_slip_is_told_once_with_what_to_write(old, new, words):
    (text,) = told(old, new)
    assert words in text, text


def test_a_length_with_its_unit_in_a_file_of_mm_is_a_number_alone():
    (text,) = told(WING, WING.replace('"in"', '"mm"').replace('"5 ft 2 1/2"', "5 ft"))
    assert "number alone, in mm" in text


def test_a_mistake_beside_a_wrong_unit_is_told_too():
    texts = told('units = "in"', 'units = "inches"\nsid = "right"')
    assert len(texts) == 2 and "side" in texts[1]


def test_a_tag_code_is_no_file(tmp_path):
    for name, told in (("RW-00", True), ("wing.toml", False)):
        with pytest.raises(PartFileError) as refused:
            read(tmp_path / name)
        assert ("tag code is no file" in refused.value.text()) == told


def test_a_share_of_the_chord_is_asked_about():
    assert doubts("chord = 20", "chord = 20.0") == ()
    (text,) = doubts("chord = 20", "chord = 0.65")
    assert "spar 1, chord" in text and "write 65" in text


def test_a_gauge_in_thousandths_is_asked_about():
    (text,) = doubts("gauge = 0.032", "gauge = 40")
    assert "thousandths, write 0.04;" in text
    (text,) = doubts("gauge = 0.032", "gauge = 0.8")
    assert "If it is mm, write 0.0315" in text
