"""Planted mistakes: each is named by line and key, with what was given and what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read, read_text
from mapper.job.partfile.values import typed_length

WING = """\
units = "mm"
part = "outer wing"
shape = "loft"
side = "right"
[measured]
how = "tape"
tolerance = 2
date = 2026-04-11
[[section]]
station = 0
chord = 1400
profile = "2412"
[[section]]
station = 3000
chord = 900
leading_edge_aft = 125
[[rib]]
name = "rib 1"
station = 600
[[spar]]
name = "front spar"
chord = 22
[[seam]]
name = "mid seam"
station = 1500
side = "upper"
[[rivet_row]]
name = "rivets 1"
along = "rib 1"
pitch = 25
[[lap]]
name = "mid lap"
along = "mid seam"
width = 20
[[opening]]
name = "filler"
form = "round"
station = 700
chord = 45
side = "upper"
diameter = 76
[[panel]]
name = "inboard"
station = 600
chord = 50
side = "upper"
gauge = 0.8
"""

# (what stands in WING, what is written instead, the key in words, words of the message)
ONE_LINE = [
    ('units = "mm"', 'units = "cm"', "units", '"mm" or "in"'),
    ('units = "mm"', 'units = "inches"', "units", 'Did you mean "in"?'),
    ('units = "mm"', "units = 25.4", "units", '"mm" or "in"'),
    ('part = "outer wing"', 'part = ""', "part", "empty"),
    ('part = "outer wing"', "part = 7", "part", 'Put it in quotes: "7"'),
    ('shape = "loft"', 'shape = "wing"', "shape", 'Did you mean "loft"?'),
    ('side = "right"', 'side = "port"', "side", 'Did you mean "left"?'),
    ('side = "right"', 'sied = "right"', "sied", "Did you mean side?"),
    ('side = "right"', "end_diameter = 20", "end_diameter", "it is for tube"),
    ('how = "tape"', 'how = "guess"', "measured, how", '"tape" or "drawing" or "scan"'),
    ("tolerance = 2", 'tolerance = "2"', "measured, tolerance", "Take the quotes away"),
    ("tolerance = 2", "tolerance = 80", "measured, tolerance", "0 to 50"),
    ("tolerance = 2", 'trailing_edge = "open"\ntolerance = 2', "measured, trailing_edge",
     "above the first [header]"),
    ("date = 2026-04-11", 'date = "11.4.26"', "measured, date", "2026-05-31"),
    ("chord = 1400", 'chord = "1400 mm"', "section 1, chord", "Write the number alone"),
    ("chord = 1400", "chord = 0", "section 1, chord", "more than 0 mm"),
    ("chord = 1400", "chord = -1400", "section 1, chord", "more than 0 mm"),
    ("chord = 1400", "chord = true", "section 1, chord", "a length as a number"),
    ("chord = 1400", "chord = inf", "section 1, chord", "a length as a number"),
    ("chord = 1400", 'chord = "55 1/8"', "section 1, chord", 'units = "in"'),
    ('profile = "2412"', "profile = 2412", "section 1, profile", 'in quotes: "2412"'),
    ('profile = "2412"', 'profile = "241"', "section 1, profile", "four or five digits"),
    ('profile = "2412"', 'profile = "2012"', "section 1, profile", "Both of the first two"),
    ('profile = "2412"', 'profile = "2400"', "section 1, profile", "1 to 40 %"),
    ('profile = "2412"', 'profile = "29012"', "section 1, profile", "Tabulated are"),
    ('profile = "2412"', 'profile = "root.dat"', "section 1, profile", "`coordinates`"),
    ('profile = "2412"', 'coordinates = "none.dat"', "section 1, coordinates", "no such file"),
    ('profile = "2412"', 'profil = "2412"', "section 1, profil", "Did you mean profile?"),
    ("station = 3000", "station = 0", "section 2, station", "order from inboard to outboard"),
    ("leading_edge_aft = 125", "leading_edge_aft = 125\nsweep = 3", "section 2, sweep",
     "both leading_edge_aft and sweep"),
    ("leading_edge_aft = 125", "height = 80\ndihedral = 3", "section 2, dihedral",
     "both height and dihedral"),
    ("leading_edge_aft = 125", "sweep = 95", "section 2, sweep", "-70 to 70 degrees"),
    ("station = 600\n[[spar]]", "station = 3600\n[[spar]]", "rib 1, station", "0 to 3000 mm"),
    ("station = 600\n[[spar]]", "station = 600\nfrom_chord = 60\nto_chord = 20\n[[spar]]",
     "rib 1, to_chord", "greater than from_chord"),
    ("chord = 22", "chord = 122", "spar 1, chord", "0 to 100 % chord"),
    ("chord = 22", "chord = 22\nto_station = 3200", "spar 1, to_station", "outside the part"),
    ("chord = 22", 'chord = 22\nname = ""', None, "Cannot overwrite"),
    ('name = "front spar"', 'name = "Rib 1"', "spar 1, name", "already the name of the rib"),
    ("station = 1500", "station = 4000", "seam 1, station", "outside the part"),
    ("station = 1500", "station = 0", "seam 1, station", "between the ends"),
    ("station = 1500", "station = 1500\nchord = 30", "seam 1, station", "one of station and chord"),
    ("station = 1500", "station = 1500\nfrom_station = 30", "seam 1, from_station",
     "from_chord and to_chord are allowed"),
    ('along = "rib 1"', 'along = "rib 12"', "rivet_row 1, along", 'Did you mean "rib 1"?'),
    ('along = "rib 1"', "from_station = 10", "rivet_row 1, from_chord", "all four"),
    ('along = "rib 1"', "from_station = 9\nfrom_chord = 9\nto_station = 9\nto_chord = 9",
     "rivet_row 1, to_station", "both ends are one place"),
    ("station = 1500", "chord = 100", "seam 1, chord", "on an end of the part"),
    ("pitch = 25", "pitch = 0", "rivet_row 1, pitch", "more than 0 mm"),
    ('along = "mid seam"', 'along = "rivets 1"', "lap 1, along", "no rib, spar, stringer or seam"),
    ("width = 20", "width = 20\nwidths = 3", "lap 1, widths", "Did you mean width?"),
    ('form = "round"', 'form = "circle"', "opening 1, form", 'Did you mean "round"?'),
    ("station = 700", "station = 7000", "opening 1, station", "0 to 3000 mm"),
    ("chord = 45", "chord = 145", "opening 1, chord", "0 is the leading edge"),
    ("chord = 45", "at = [0, 0]", "opening 1, at", "one of the two ways"),
    ("diameter = 76", "diameter = 76\nwidth = 20", "opening 1, width", "a round form has none"),
    ("diameter = 76", "radius = 38", "opening 1, radius", "no such key"),
    ("gauge = 0.8", "gauge = -0.8", "panel 1, gauge", "more than 0 mm"),
    ("gauge = 0.8", "thin = \"yes\"", "panel 1, thin", "true or false"),
    ("gauge = 0.8", "corners = [[0, 0], [1, 1]]", "panel 1, corners", "belongs in [[opening]]"),
]  # fmt: skip


def mistakes(text: str) -> tuple:
    with pytest.raises(PartFileError) as caught:
        read_text(text)
    return caught.value.mistakes


def test_the_wing_itself_is_sound() -> None:
    spec = read_text(WING)
    assert spec.warnings == ()
    assert [s.station for s in spec.section] == [0.0, 3000.0]
    assert spec.section[1].profile == "2412"


@pytest.mark.parametrize(("there", "instead", "key", "words"), ONE_LINE)
def test_a_planted_mistake_is_named(there: str, instead: str, key: str | None, words: str) -> None:
    assert WING.count(there) >= 1
    text = WING.replace(there, instead, 1)
    found = mistakes(text)
    named = [m for m in found if key is None or m.key == key]
    assert named, [m.text() for m in found]
    mistake = named[0]
    last = key.split(", ")[-1] if key else "name"
    stands = text.split("\n")[mistake.line - 1]
    # What is missing is shown at the header it is missing under.
    assert stands.startswith(last) or (stands.startswith("[[") and last not in instead)
    assert words in mistake.text()
    assert mistake.given


MISSING = [
    ('units = "mm"\n', "units", "it is missing"),
    ('shape = "loft"\n', "shape", "it is missing"),
    ('how = "tape"\n', "measured, how", "it is missing"),
    ("chord = 1400\n", "section 1, chord", "it is missing"),
    ('profile = "2412"\n', "section 1, profile", "has no profile"),
    ("pitch = 25\n", "rivet_row 1, pitch", "it is missing"),
    ("diameter = 76\n", "opening 1, diameter", "a round form needs it"),
    ('side = "upper"\ndiameter', "opening 1, side", "its place is not whole"),
]


@pytest.mark.parametrize(("out", "key", "words"), MISSING)
def test_what_is_missing_is_named_at_its_header(out: str, key: str, words: str) -> None:
    text = WING.replace(out, "diameter" if out.endswith("diameter") else "", 1)
    named = [m for m in mistakes(text) if m.key == key]
    assert len(named) == 1
    assert words in named[0].text()
    assert named[0].line >= 1


def test_five_mistakes_give_five_messages_in_the_order_of_lines() -> None:
    text = WING
    for there, instead in (
        ('how = "tape"', 'how = "eye"'),
        ("chord = 1400", "chord = 0"),
        ("leading_edge_aft", "leeding_edge_aft"),
        ('along = "rib 1"', 'along = "rib 9"'),
        ("station = 700", "station = 9000"),
    ):
        text = text.replace(there, instead, 1)
    found = mistakes(text)
    assert [m.key for m in found] == [
        "measured, how",
        "section 1, chord",
        "section 2, leeding_edge_aft",
        "rivet_row 1, along",
        "opening 1, station",
    ]
    assert [m.line for m in found] == sorted(m.line for m in found)


SYNTAX = [
    ("units = mm", 1, "Put texts in quotes"),
    ('units = "mm"\ngauge = .032', 2, "Write a 0 before the point"),
    ('units = "mm"\n\nchord: 1400', 3, "Write = between"),
    ("leading edge aft = 3", 1, "Join the words of a key with _"),
    ("chord = 1400,5", 1, "decimal point"),
    ("chord = 1400 mm", 1, "Write the number alone"),
    ("a = 1\nchord = 59 1/16", 2, "fraction of an inch in quotes"),
    ("profile = 0012", 1, '"0012"'),
    ('part = "wing\nshape = "loft"', 1, "Close the text with a quote"),
    ("part = “wing”", 1, "straight quotes"),
    ("[[section]\nstation = 1", 1, "Close a header"),
    ("thin = yes", 1, "true or false"),
    ("date = 31.5.2026", 1, "2026-05-31"),
    ("[section]\na = 1\n[section]\na = 2", 3, "[[double brackets]]"),
    ("corners = [[0, 0], [1, 1]\nunits = 3", 2, "cannot be read"),
]


@pytest.mark.parametrize(("text", "line", "words"), SYNTAX)
def test_a_syntax_mistake_comes_alone_with_its_line(text: str, line: int, words: str) -> None:
    found = mistakes(text + '\nunknown_key = "also wrong"\n')
    assert len(found) == 1
    assert found[0].line == line
    assert words in found[0].text()


GAUGES = [
    ("mm", "gauge = 0.032", "0.032 mm was given", "write 0.813"),
    ("in", "gauge = 0.8", "0.8 in was given", "write 0.0315"),
]


@pytest.mark.parametrize(("units", "gauge", "given", "to_do"), GAUGES)
def test_a_gauge_in_the_other_unit_is_a_warning(
    units: str, gauge: str, given: str, to_do: str
) -> None:
    text = WING.replace("gauge = 0.8", gauge).replace('"mm"', f'"{units}"')
    (warning,) = [w for w in read_text(text).warnings if "gauge" in w.key]
    assert warning.key == "panel 1, gauge"
    assert text.split("\n")[warning.line - 1] == gauge
    assert given in warning.text()
    assert to_do in warning.text()


FILES = [
    (b"", "it is empty"),
    (b"\x00\x01\x02\xff" * 10, "it is not a text"),
    (b"units\x00 = 1", "it is not a text"),
    ("units = 'mm'".encode("utf-16"), "it is UTF-16"),
    (b'units = "mm"\npart = "L\xfcfter"\n', "is not UTF-8"),
    (b"# " + b"x" * 1_000_001, "1,000,000 are allowed"),
]


@pytest.mark.parametrize(("data", "words"), FILES)
def test_a_file_that_is_no_part_file_is_refused_in_words(
    tmp_path: Path, data: bytes, words: str
) -> None:
    file = tmp_path / "wing.toml"
    file.write_bytes(data)
    with pytest.raises(PartFileError, match=words):
        read(file)


def test_a_folder_and_a_missing_file_are_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(PartFileError, match="it is a folder"):
        read(tmp_path)
    with pytest.raises(PartFileError, match="there is no such file"):
        read(tmp_path / "none.toml")


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_mark_and_line_ends_make_no_difference(tmp_path: Path, mark: bytes, end: str) -> None:
    file = tmp_path / "wing.toml"
    text = WING.replace("chord = 1400", "chord = 0")
    file.write_bytes(mark + text.replace("\n", end).encode())
    with pytest.raises(PartFileError) as caught:
        read(file)
    assert [(m.line, m.key) for m in caught.value.mistakes] == [(11, "section 1, chord")]


def test_an_error_without_a_mistake_cannot_be_made() -> None:
    with pytest.raises(ValueError, match="at least one"):
        PartFileError([])


def test_a_seam_may_be_along_a_rib_or_spar() -> None:
    text = WING.replace("station = 1500", 'along = "rib 1"')
    assert read_text(text).seam[0].station == 600.0
    text = WING.replace("station = 1500", 'along = "front spar"')
    assert read_text(text).seam[0].chord == 22.0
    (mistake,) = mistakes(WING.replace("station = 1500", 'along = "rib 2"'))
    assert mistake.key == "seam 1, along"
    assert 'Did you mean "rib 1"?' in mistake.text()
    (mistake,) = mistakes(WING.replace("station = 1500", 'station = 1500\nalong = "rib 1"'))
    assert "one of the two ways" in mistake.text()


def test_rows_along_a_line_name_themselves() -> None:
    text = WING.replace('name = "rivets 1"\n', "").replace('name = "mid lap"\n', "")
    spec = read_text(text + '[[rivet_row]]\nalong = "rib 1"\npitch = 30\noffset = 10\n')
    assert [row.name for row in spec.rivet_row] == ["rivets along rib 1", "rivets along rib 1 (2)"]
    assert spec.lap[0].name == "lap along mid seam"


def test_one_syntax_mistake_points_to_the_lines_like_it() -> None:
    (mistake,) = mistakes("a = 3/4\nb = 1\nc = .020\nthin = true\nd = aft\n")
    assert mistake.line == 1
    assert "Look at lines 3, 5 too." in mistake.text()


@pytest.mark.parametrize(
    ("text", "mm"),
    [("59 1/16", 1500.1875), ("4 ft 11 1/16", 1500.1875), ("4'-11", 1498.6), ("30 mm", 30.0),
     ("1 ft 14", None), ("1/0", None), ("wide", None)],
)  # fmt: skip
def test_lengths_as_text_are_read_as_everywhere_else(text: str, mm: float | None) -> None:
    # 1 in = 25.4 mm, 1 ft = 12 in, by definition.
    assert typed_length(text) == mm
