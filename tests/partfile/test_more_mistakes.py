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
    ("fuselage", 'form = "rounded box"', "# ", "cross_section 1, form", "has no form"),
    ("fuselage", 'form = "ellipse"', 'form = "circle"', "cross_section 3, form", '"ellipse"'),
    ("fuselage", "width = 880\n", "", "cross_section 3, width", "an ellipse needs it"),
    ("fuselage", "width = 880\n", "width = 880\ncorner_radius = 9\n",
     "cross_section 3, corner_radius", "an ellipse has none"),
    ("fuselage", "corner_radius = 220", "corner_radius = 470", "cross_section 1, corner_radius",
     'form = "ellipse"'),
    ("fuselage", "station = 3200\nform", "station = 1600\nform", "cross_section 3, station",
     "from forward to aft"),
    ("fuselage", "[[0, 330], ", "[", "cross_section 4, points", "half breadth 0"),
    ("fuselage", "[[0, 330], [70, 310], [118, 250], [130, 180], [112, 105], [64, 48], [0, 30]]",
     "[[0, 330], [70, 310], [0, 30]]", "cross_section 4, points", "4 or more"),
    ("fuselage", "angle = 48", "angle = 480", "longeron 1, angle", "0 to 360"),
    ("fuselage", "angle = 48", "angle = 48\nwaterline = 60", "longeron 1, waterline", "one of"),
    ("fuselage", "angle = 48", "chord = 48", "longeron 1, chord", "no such key"),
    ("fuselage", "waterline = 60               #", "waterline = 6000             #",
     "seam 2, waterline", "off the sheet"),
    ("fuselage", 'along = "frame 2"', 'along = "frame 9"', "seam 1, along", "frame or longeron"),
    ("fuselage", 'along = "frame 2 seam"', 'along = "frame 9 seam"', "rivet_row 1, along",
     "no frame, longeron or seam"),
    ("fuselage", 'name = "frame 2"\nstation = 1700', 'name = "frame 2"\nstation = 9700',
     "frame 2, station", "500 to 5600 mm"),
    ("fuselage", "angle = 285\n", "", "opening 1, angle", "its place is not whole"),
    ("fuselage", "angle = 285\n", "at = [0, 0]\n", "opening 1, at", "one of the two ways"),
    ("fuselage", 'front_end = "open" ', 'front_end = "shut" ', "front_end", '"open" or "closed"'),
    ("cowling", "station = -7", "station = 7", "opening 1, station", "-30 to 0 in"),
    ("cowling", 'name = "right split line"\nangle = 90',
     'name = "right split line"\nangle = 90\nfrom_angle = 10', "seam 1, from_angle",
     "cannot have it"),
    ("nacelle", "to_station = 900\n", "to_station = 9000\n", "seam 2, to_station", "0 to 2300 mm"),
    ("fillet", "station = 700\npoints", 'station = 700\nform = "ellipse"\npoints',
     "cross_section 2, form", "open strip"),
    ("fillet", 'along = "former 2"', "angle = 30", "seam 1, angle", "no such key in [[seam]]"),
    ("spinner", "diameter = 340 ", "# ", "diameter", "the form ellipse needs it"),
    ("spinner", "diameter = 340 ", "diameter = 340\npoints = [[0, 0], [1, 1], [2, 2], [3, 3]] #",
     "points", "the form ellipse has none"),
    ("spinner", 'form = "ellipse" ', 'form = "sphere" ', "form", '"paraboloid"'),
    ("spinner", "# gores = 8 ", "gores = 5 ", "gores", "8, 12, 16"),
    ("spinner", "# gores = 8 ", "gores = 100 ", "gores", "1 to 32"),
    ("spinner", "station = 305", "station = 505", "frame 1, station", "0 to 310 mm"),
    ("spinner", "station = 80\nangle = 0", "station = 80", "panel 1, angle", "not whole"),
    ("fairing", "[4, 3.0], [7, 3.2]", "[7, 3.0], [4, 3.2]", "points", "must grow"),
    ("fairing", "[15, 1.5]", "[15, 0]", "points", "0 is allowed at an end only"),
    ("fairing", 'aft_tip = "pointed"', 'aft_tip = "sharp"', "aft_tip", '"round" or "pointed"'),
    ("curved-loft", "root_chord = 1900\n", "", "root_chord", "a planform by ellipse needs it"),
    ("curved-loft", "to_station = 5500 ", "to_station = 5800 ", "to_station", "there the chord is"),
    ("curved-loft", 'profile = "2412"', 'profile = "24"', "profile", "four or five digits"),
    ("curved-loft", "# chords =", "chords =", "chords", "a planform by ellipse has none"),
    ("curved-loft", 'planform = "ellipse" ', 'planform = "oval" ', "planform", '"ellipse" or'),
    ("curved-loft", "washout = 2 ", "washout = 200 ", "washout", "-30 to 30"),
    ("curved-loft", "station = 2000\nweb", "station = 200\nweb", "rib 1, station",
     "500 to 5500 mm"),
    ("curved-loft", "chord = 30\n", "chord = 30\nweb = true\n", "spar 1, web", "false is allowed"),
    ("bracket", "edge = 3", "edge = 7", "flange 2, edge", "0 to 3 is allowed"),
    ("bracket", "edge = 3", "edge = 1", "flange 2, edge", "has a flange already"),
    ("bracket", "angle = 60", "angle = 260", "flange 3, angle", "-175 to 175"),
    ("bracket", "thickness = 1.6", "# ", "thickness", "it is missing"),
    ("bracket", "length = 70", "length = 20", "flange 3, length", "half the width"),
    ("bracket", "at = [160, 32] ", "station = 160 #", "opening 1, station", "no such key"),
    ("bell-crank", "[5.6, -0.5], [5.6, 0.5]", "[5.6, 0.5], [5.6, -0.5]", "corners", "crosses"),
    ("fork-end", "reach = 30 ", "reach = 9 ", "reach", "in the flat of the lug"),
    ("push-pull-tube", "bolt_diameter = 8", "bolt_diameter = 80", "fork_end, bolt_diameter",
     "Less than the width"),
    ("push-pull-tube", 'fork_ends = "both" ', 'fork_ends = "all" ', "fork_ends", '"near"'),
    ("push-pull-tube", "gap = 18\n", "", "fork_end, gap", "it is missing"),
    ("casting", "sample_mass = 0.43 ", "# ", "sample_mass", "an area by foil needs it"),
    ("casting", "foil_mass = 2.31 ", "foil_mass = 2.31\nmass = 300 #", "mass", "by foil has none"),
    ("casting", 'how = "foil" ', 'how = "tape" ', "measured, how", '"template" or "foil"'),
    ("casting", "sample_area = 10000 ", "sample_area = -1 ", "sample_area", "more than 0"),
    ("casting", "bearings_inside = true ", "chord = 20 ", "chord", "it is for spar web"),
    ("tip-cap", 'profile = "2412"', 'profile = "2400"', "profile", "1 to 40 %"),
    ("tip-cap", "bulge = 1.6 ", "bulge = 16 ", "bulge", "0.05 to 10"),
    ("tip-cap", "angle = 90\n\n", "angle = 270\n\n", "seam 1, angle", "off the sheet"),
    ("tip-cap", "station = 240\n", "station = 940\n", "opening 1, station", "0 to 900 mm"),
]  # fmt: skip


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
