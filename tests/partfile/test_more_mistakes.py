"""Planted mistakes in the shapes beyond wings and flat pieces: each is named by line and key."""

from __future__ import annotations

import pytest

from mapper.job.partfile.build import build
from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read_text
from mapper.job.partfile.words import example

# (example, what stands in it, what is written instead, key in words, words of the message)
PLANTED = [
    ("aileron", "from_chord = 72 ", "# ", "from_chord", "is cut off is needed"),
    ("aileron", "from_chord = 72 ", "from_chord = 172 ", "from_chord", "0 to 100 % chord"),
    ("aileron", "nose_radius = 62 ", "nose_radius = 12 ", "nose_radius", "does not reach both"),
    ("aileron", "tip_nose_radius = 48", "tip_nose_radius = 8", "tip_nose_radius", "half circle"),
    ("aileron", "tip_nose_radius", "tip_radius", "tip_radius", "tip_nose_radius"),
    ("aileron", "nose_radius = 62 ", 'nose = "blunt" ', "nose", '"round" or "flat"'),
    ("aileron", "from_station = 3000 ", "from_station = 300 ", "from_station", "1200 to 4800 mm"),
    ("aileron", "to_station = 4600", "to_station = 2600", "to_station", "not beyond from_station"),
    ("aileron", "station = 3800", "station = 2000", "rib 1, station", "3000 to 4600 mm"),
    ("aileron", "station = 3820", "station = 4700", "opening 1, station", "3000 to 4600 mm"),
    ("aileron", 'along = "aileron spar"', 'along = "main spar"', "seam 1, along", "aileron spar"),
    ("aileron", 'shape = "aileron" ', 'shape = "slat" ', "from_chord", "begins at the leading"),
    ("slat", "to_chord = 16 ", "# ", "to_chord", "upper side ends"),
    ("slat", "lower_to_chord = 4 ", "nose_radius = 4 ", "nose_radius", "it is for flap"),
    ("slat", "station = 3700", "station = 3700\nweb = true", "rib 1, web", "false is allowed"),
    ("rudder", 'nose = "flat" ', 'nose = "flat"\nnose_radius = 2 #', "nose_radius", "a flat nose"),
    ("rudder", "tip_from_chord = 55", "tip_from_chord = 0", "tip_from_chord", "more than 0"),
]


@pytest.mark.parametrize(("name", "there", "instead", "key", "words"), PLANTED)
def test_a_planted_mistake_is_named(
    name: str, there: str, instead: str, key: str, words: str
) -> None:
    text = example(name)
    assert text.count(there) >= 1
    text = text.replace(there, instead, 1)
    with pytest.raises(PartFileError) as caught:
        build(read_text(text), triangles=4_000)
    named = [m for m in caught.value.mistakes if m.key == key]
    assert named, [m.text() for m in caught.value.mistakes]
    assert words in named[0].text()
    assert named[0].given
    if key.split(", ")[-1] in instead:
        stands = text.split("\n")[named[0].line - 1]
        assert stands.strip().startswith(key.split(", ")[-1])
