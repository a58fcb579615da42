"""Openings of every form, on one chart and over two, and the holes of webs."""

from __future__ import annotations

import math

import pytest
import shapely

from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.partfile.table import area_table
from mapper.surface.lined import open_triangles
from mapper.surface.measure import area, whole_area
from mapper.surface.place import place_of
from tests.partfile.makers import BREAK, HEAD, RIBS, SEAMS, made


def test_a_round_opening_is_a_flat_circle_and_is_off_every_area() -> None:
    hole = (
        '[[opening]]\nname = "hole"\nform = "round"\nstation = 1500\nchord = 50\n'
        'side = "upper"\ndiameter = 120\n'
    )
    wing = made(SEAMS + hole)
    skin = wing.skins[0]
    # 60 mm flat circle on an untwisted wing: pi r^2, identity.
    assert area(skin, wing.openings[0].flat) == pytest.approx(math.pi * 3600.0, rel=1e-5)
    table = area_table(wing)
    whole = table[(table["panel"] == "") & (table["face"] == "outer")].iloc[0]
    assert whole["area_mm2"] == pytest.approx(whole_area(skin) - math.pi * 3600.0, rel=1e-6)
    owner = table[table["panel"] == "upper, station 1000 to 2000, 20 to 100 % chord"].iloc[0]
    assert owner["openings_mm2"] == pytest.approx(math.pi * 3600.0, rel=1e-4)
    other = table[table["panel"] == "upper, station 2000 to 3000, 20 to 100 % chord"].iloc[0]
    assert other["openings_mm2"] == 0.0
    plain = made(SEAMS)
    before = {p.name: area(skin, p.flat) for p in plain.panels}
    after = {p.name: area(skin, p.flat) for p in wing.panels}
    lost = [before[name] - after[name] for name in before]
    assert max(lost) == pytest.approx(math.pi * 3600.0, rel=1e-3)


FORMS = [
    ("oval", "length = 200\nwidth = 100\n", math.pi * 5000.0),
    ("rectangle", "length = 200\nwidth = 100\n", 20000.0),
    ("rectangle", "length = 200\nwidth = 100\ncorner_radius = 20\nturned = 30\n",
     20000.0 - (4.0 - math.pi) * 400.0),
    ("polygon", "corners = [[0, 0], [100, 0], [0, 80]]\n", 4000.0),
]  # fmt: skip


@pytest.mark.parametrize("side", ["right", "left"])
@pytest.mark.parametrize(("form", "sizes", "size"), FORMS)
def test_openings_of_every_form_have_their_area(
    form: str, sizes: str, size: float, side: str
) -> None:
    hole = f'[[opening]]\nname = "a"\nform = "{form}"\nstation = 2000\nchord = 50\nside = "lower"\n'
    wing = made(hole + sizes, top=f'side = "{side}"')
    (opening,) = wing.openings
    assert area(wing.skins[0], opening.flat) == pytest.approx(size, rel=1e-5)
    places = place_of(wing.skins[0], shapely.get_coordinates(opening.flat))
    assert not places.upper.any()
    if form == "polygon":
        # Its corner at the right angle lies at the place; the others outboard and aft of it.
        assert places.station.min() == pytest.approx(2000.0, abs=0.5)
        assert places.chord.min() == pytest.approx(50.0, abs=0.3)


def test_webs_count_as_skins_with_their_holes_off() -> None:
    ribs = RIBS.replace(
        "station = 1400\n",
        "station = 1400\nweb = true\nfrom_chord = 25\nto_chord = 70\n"
        "lightening_hole = [{ chord = 45, diameter = 60 }]\n",
    )
    spar = "web = true\nlightening_hole = [{ station = 2000, diameter = 40 }]\n"
    wing = made(ribs + spar)
    assert [s.name for s in wing.skins] == ["skin", "rib 1 web", "front spar web"]
    holes = {o.skin: area(wing.skin(o.skin), o.flat) for o in wing.openings}
    assert holes["rib 1 web"] == pytest.approx(math.pi * 900.0, rel=1e-6)
    assert holes["front spar web"] == pytest.approx(math.pi * 400.0, rel=1e-5)
    web = wing.skin("front spar web")
    # Trapezium: height of a 12 % section at 25 % chord at both ends. 2 x 5.941 % of the chord by
    # the four-digit equation of NACA TR 460; length along the swept spar line.
    height = 2.0 * 0.05941
    sloping = math.hypot(2000.0, 100.0 + 0.25 * (800.0 - 1200.0))
    assert whole_area(web) == pytest.approx(height * 1000.0 * sloping, rel=1e-3)


@pytest.mark.parametrize(
    ("form", "sizes", "size"), [("round", "diameter = 100\n", math.pi * 2500.0), *FORMS[:3]]
)
def test_an_opening_over_a_break_in_taper_goes_on_in_the_next_chart(
    form: str, sizes: str, size: float
) -> None:
    hole = f'[[opening]]\nname = "a"\nform = "{form}"\nstation = 3000\nchord = 50\nside = "upper"\n'
    text = HEAD.format(top="").replace("[stations]", BREAK + "[stations]")
    wing = build(read_text(text + hole + sizes), triangles=4000)
    (opening,) = wing.openings
    # Flat forms; the outer, twisted chart is laid flat with a stretch below 1e-3.
    assert area(wing.skins[0], opening.flat) == pytest.approx(size, rel=1e-3)
    places = place_of(wing.skins[0], shapely.get_coordinates(opening.flat))
    assert set(places.chart) == {0, 1}


def test_a_coarse_mesh_takes_an_opening_that_a_fine_one_takes() -> None:
    """Within a cell of a stretched map true areas are spread unevenly; the opening is on the sheet
    on every mesh."""
    text = """units = "mm"
part = "wing"
shape = "loft"
[measured]
how = "tape"
tolerance = 2
[[section]]
station = 0
chord = 1500
profile = "2415"
[[section]]
station = 4000
chord = 1000
profile = "2412"
twist = -2
dihedral = 5.5
[[opening]]
name = "filler"
form = "round"
station = 1683
chord = 42
side = "upper"
diameter = 82.55
"""
    for triangles in (1000, 2000, 4000):
        wing = build(read_text(text), triangles=triangles)
        size = math.pi * 82.55**2 / 4.0
        assert wing.openings[0].flat.area == pytest.approx(size, rel=1e-4)


def test_the_mesh_has_the_lines_of_openings_and_stays_within_its_limit() -> None:
    hole = (
        '[[opening]]\nname = "hole"\nform = "round"\nstation = 1500\nchord = 50\n'
        'side = "upper"\ndiameter = 120\n'
    )
    holed = "web = true\n[[rib.lightening_hole]]\nchord = 40\ndiameter = 40\n"
    ribs = RIBS.replace("station = 1400\n", f"station = 1400\n{holed}")
    wing = build(read_text(HEAD.format(top="") + hole + ribs), triangles=6000)
    for skin in wing.skins:
        (opening,) = (o for o in wing.openings if o.skin == skin.name)
        inside = open_triangles(skin, opening.flat)
        assert inside.sum() > 20 and len(skin.triangles) <= 6000
        size = shapely.area(shapely.polygons(skin.flat[skin.triangles[inside]])).sum()
        assert size == pytest.approx(opening.flat.area, rel=2e-3)
