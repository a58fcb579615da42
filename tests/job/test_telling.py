"""Where an entry is, in short, on wings, round bodies and parts without a shape."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from mapper.job.outlines import outline_of
from mapper.job.telling import drawn, values
from mapper.surface.place import flat_of
from mapper.surface.region import box
from mapper.surface.round import angle_box, angle_line, flat_at_angle
from mapper.surface.tape import tape_words
from mapper.units import Units
from tests.job.makers import entry
from tests.job.test_inner import SAID, part, wing

METRIC, INCH = Units("metric"), Units("inch")
BODY = f"""units = "mm"
part = "body"
shape = "fuselage"
{SAID}
[stations]
datum = 100
[[cross_section]]
station = 100
width = 900
depth = 900
form = "ellipse"
[[cross_section]]
station = 3100
width = 900
depth = 900
"""
CASTING = f"""units = "mm"
part = "casting"
shape = "casting"
area = 40000
{SAID.replace("tape", "template").replace("tolerance = 2", "tolerance = 8")}
"""


@pytest.mark.parametrize(
    ("angles", "said"),
    [
        ((30.0, 75.0), "30-75 degrees round"),
        ((300.0, 60.0), "300-60 degrees round"),
        ((150.0, 210.0), "150-210 degrees round"),
        ((1.0, 359.5), "all round"),
    ],
)
def test_a_region_of_a_body_tells_its_stations_and_its_angle(angles, said) -> None:
    """Closed form: the angles it was made of; 300 to 60 runs over the top."""
    body = part(BODY)
    region = angle_box(body.skins[0], angles=angles, stations=(600.0, 1100.0))
    outline = outline_of(body, "skin", "outer", region)
    assert drawn(outline, METRIC, body) == f"skin, station 600-1100 mm, {said}"
    # Without the shape there is nothing to tell an angle by.
    assert drawn(outline, METRIC) == "skin, station 600-1100 mm"


def test_a_point_and_a_line_of_a_body() -> None:
    body = part(BODY)
    skin = body.skins[0]
    at = flat_at_angle(skin, 1370.0, 270.0)[0]
    point = outline_of(body, "skin", "inner", shapely.MultiPoint([at]))
    assert drawn(point, METRIC, body) == "skin, inner, station 1370 mm, 270 degrees round"
    assert tape_words(body, "skin", at) == "station 1370 mm, 270 degrees round"
    line = outline_of(body, "skin", "outer", angle_line(skin, 48.0, (600.0, 1100.0)))
    assert drawn(line, METRIC, body) == "skin, station 600-1100 mm, 48 degrees round"


def test_a_wing_needs_no_shape_for_its_words() -> None:
    right = wing()
    corners = flat_of(right.skins[0], [500, 800, 800, 500], [30, 30, 50, 50], True)
    outline = outline_of(right, "skin", "outer", shapely.Polygon(corners))
    said = drawn(outline, METRIC, right)
    assert said == drawn(outline, METRIC) == "upper, station 500-800 mm, 30-50 %"
    assert drawn(outline, INCH).startswith("upper, station 19.7-31.5 in")


def test_a_casting_has_no_places() -> None:
    """Its map is a square of the area entered: stations on it would mean nothing."""
    casting = part(CASTING)
    (skin,) = casting.skins
    region = shapely.box(*(np.array([10.0, 10.0, 60.0, 60.0])))
    outline = outline_of(casting, skin.name, skin.face_names[0], region)
    assert drawn(outline, METRIC, casting) == "surface"


def test_a_nought_that_was_measured_is_said() -> None:
    """Nothing left of the coat is the result of a go; a "no" and what is not there go unsaid."""
    go = entry("application", values={"left_fraction": 0.0, "product": "gel", "labour": 80.0})
    assert values(go, METRIC, {}) == ["gel", "labour 80 min", "share still coated 0 %"]


STRAIGHT = f"""units = "mm"
part = "tailplane"
shape = "loft"
side = "right"
{SAID}
[[section]]
station = 0
chord = 900
profile = "0012"
[[section]]
station = 1500
chord = 900
[[seam]]
name = "nose seam"
chord = 20
side = "both"
"""


def test_what_runs_round_the_nose_begins_at_its_edge() -> None:
    """On a wing of one chord the outline has corners at 20 % alone, on both sides."""
    made = part(STRAIGHT)
    names = {p.name: p for p in made.panels}
    assert "nose, 0 to 20 % chord" in names
    nose = outline_of(made, "skin", "outer", names["nose, 0 to 20 % chord"].flat)
    assert drawn(nose, METRIC) == "both sides, station 0-1500 mm, 0-20 %"
    two = box(made.skin("skin"), stations=(200.0, 400.0), chord=(20.0, 60.0))
    said = drawn(outline_of(made, "skin", "outer", two), METRIC)
    assert said == "both sides, station 200-400 mm, 20-60 %"
