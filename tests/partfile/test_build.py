"""From a part file to a geometry version: places, panels, laps, placement."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from mapper.job.partfile.build import build
from mapper.job.partfile.mistakes import PartFileError
from mapper.job.partfile.read import read, read_text
from mapper.job.partfile.table import area_table, edge_lengths
from mapper.job.partfile.words import example
from mapper.surface.measure import area, length, whole_area
from mapper.surface.place import place_of, space_of
from mapper.surface.version import from_bytes, to_bytes
from tests.partfile.makers import BREAK, HEAD, RIBS, SEAMS, made


def test_seams_make_panels_that_add_up_to_the_skin() -> None:
    wing = made(SEAMS)
    skin = wing.skins[0]
    areas = {p.name: area(skin, p.flat) for p in wing.panels}
    assert set(areas) == {
        "nose, 0 to 20 % chord",
        "upper, station 1000 to 2000, 20 to 100 % chord",
        "upper, station 2000 to 3000, 20 to 100 % chord",
        "lower, 20 to 100 % chord",
    }
    assert sum(areas.values()) == pytest.approx(whole_area(skin), rel=2e-6)
    inner = areas["upper, station 1000 to 2000, 20 to 100 % chord"]
    outer = areas["upper, station 2000 to 3000, 20 to 100 % chord"]
    # Similar sections: areas of the halves are as the mean chords, 1100 to 900 mm.
    assert inner / outer == pytest.approx(1100.0 / 900.0, rel=1e-5)
    # A symmetrical section: the two upper panels are as large as the lower one.
    assert inner + outer == pytest.approx(areas["lower, 20 to 100 % chord"], rel=1e-5)


def test_a_panel_takes_its_name_and_sheet_from_a_place_inside() -> None:
    panel = '[[panel]]\nname = "tank skin"\nstation = 1500\nchord = 50\nside = "upper"\n'
    sheet = '[sheet]\nalloy = "2024-T3"\ngauge = 0.8\n'
    wing = made(
        SEAMS
        + panel
        + 'gauge = 1.0\ngauge_how = "measured"\ncladding = "clad"\nthin = true\n'
        + sheet
    )
    named = {p.name: p for p in wing.panels}
    assert named["tank skin"].gauge == 1.0
    assert named["tank skin"].alloy == "2024-T3"
    assert named["tank skin"].cladding == "clad"
    assert named["tank skin"].thin
    assert named["tank skin"].side == "upper"
    assert named["lower, 20 to 100 % chord"].gauge == 0.8
    assert named["lower, 20 to 100 % chord"].gauge_how == "nominal"
    assert named["tank skin"].gauge_how == "measured"
    assert not named["lower, 20 to 100 % chord"].thin


def test_bays_are_named_after_what_bounds_them() -> None:
    wing = made(RIBS)
    names = {b.name for b in wing.bays}
    assert "upper, rib 1 to rib 2, front spar to trailing edge" in names
    assert "lower, root to rib 1, front spar to trailing edge" in names
    assert "nose, rib 2 to tip, forward of the front spar" in names
    assert len(names) == 9
    total = sum(area(wing.skins[0], b.flat) for b in wing.bays)
    assert total == pytest.approx(whole_area(wing.skins[0]), rel=2e-6)


def test_lines_lie_where_the_file_says() -> None:
    rows = (
        '[[rivet_row]]\nname = "row"\nalong = "rib 1"\npitch = 25\nside = "upper"\noffset = 30\n'
        '[[stringer]]\nname = "s"\nside = "lower"\nfrom_station = 1400\nfrom_chord = 40\n'
        "to_station = 2600\nto_chord = 60\n"
    )
    wing = made(RIBS + rows)
    skin = wing.skins[0]
    lines = {line.name: line for line in wing.lines}
    rib = place_of(skin, shapely.get_coordinates(lines["rib 1"].flat))
    assert np.nanmax(np.abs(rib.station - 1400.0)) < 1e-3
    spar = place_of(skin, shapely.get_coordinates(lines["front spar"].flat))
    assert np.nanmax(np.abs(spar.chord - 25.0)) < 1e-3
    assert lines["row"].pitch == 25.0
    apart = lines["row"].flat.distance(lines["rib 1"].flat)
    assert apart == pytest.approx(30.0, abs=0.01)
    row = place_of(skin, shapely.get_coordinates(lines["row"].flat))
    assert np.nanmin(row.station) > 1400.0
    assert row.upper[row.chord > 1.0].all()
    # Straight in plan: every point lies on the line between the two ends.
    xyz = space_of(skin, shapely.get_coordinates(lines["s"].flat))
    chord = xyz[-1, :2] - xyz[0, :2]
    square = np.array([-chord[1], chord[0]]) / np.linalg.norm(chord)
    assert np.abs((xyz[:, :2] - xyz[0, :2]) @ square).max() < 0.5


def test_a_lap_has_its_strip_once_and_both_hidden_surfaces() -> None:
    lap = '[[lap]]\nname = "lap"\nalong = "mid"\nwidth = 24\ntowards = "outboard"\nside = "upper"\n'
    wing = made(SEAMS + lap)
    (found,) = wing.laps
    skin = wing.skins[0]
    seam = next(line for line in wing.lines if line.name == "mid")
    # Laid flat the seam is an arc about the cone's apex, 5000 mm out at a taper of 400 in 2000:
    # a ring sector of width w inside it has the area w length (1 - w / 2 radius), identity.
    strip = 24.0 * length(skin, seam.flat) * (1.0 - 12.0 / 5000.0)
    assert found.hidden_area == pytest.approx(2.0 * strip, rel=3e-4)
    places = place_of(skin, shapely.get_coordinates(found.flat))
    assert np.nanmin(places.station) > 1999.9


def test_a_part_is_placed_attached_and_mirrored() -> None:
    fin = "[placement]\norigin = [100, 20, 300]\nrotation = [90, 0, 0]\n"
    placed = made(fin).placement
    # A fin stands up: what runs outboard on the part runs up on the aircraft.
    assert placed.rotation @ [0.0, 1.0, 0.0] == pytest.approx([0.0, 0.0, 1.0])
    assert placed.origin == pytest.approx([100.0, 20.0, 300.0])
    left = made("[placement]\norigin = [100, 20, 300]\n", top='side = "left"')
    assert left.mirrored
    assert left.placement.origin == pytest.approx([100.0, -20.0, 300.0])
    assert left.skins[0].points[:, 1].max() <= 0.0
    hung = made('[attachment]\nto = "centre section"\n')
    assert hung.attached_to == "centre section"


def test_the_part_frame_begins_at_the_datum_and_the_hinge_line_lies_in_it() -> None:
    hinge = (
        "[hinge_line]\nfrom_station = 1200\nfrom_chord = 75\nto_station = 2800\n"
        "to_chord = 75\nheight = -10\n"
    )
    wing = made(hinge)
    assert wing.datum == 1000.0
    assert wing.skins[0].points[:, 1].min() == pytest.approx(0.0)
    assert wing.skins[0].station.min() == pytest.approx(1000.0)
    line = next(line for line in wing.lines if line.kind == "hinge line")
    assert line.space is not None
    # Station 1200: chord 1160 mm, leading edge 10 mm aft.
    assert line.space[0] == pytest.approx([10.0 + 0.75 * 1160.0, 200.0, -10.0])


def test_edges_of_a_loft_are_named_and_as_long_as_they_are() -> None:
    wing = made()
    edges = edge_lengths(wing.skins[0])
    # NACA 0012 skin length / chord, closed trailing edge: 2.03955, by quadrature.
    assert edges["root"] == pytest.approx(2.03955 * 1200.0, rel=1e-5)
    assert edges["tip"] == pytest.approx(2.03955 * 800.0, rel=1e-5)
    trailing = math.hypot(2000.0, 100.0 + 800.0 - 1200.0)
    assert edges["upper trailing edge"] == pytest.approx(trailing, rel=1e-9)


def test_coordinates_from_a_file_give_the_same_wing(tmp_path: Path) -> None:
    # The four-digit equation of NACA TR 460, closed trailing edge, as a file of ordinates.
    xi = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, 121)))
    y = 0.6 * (
        0.2969 * np.sqrt(xi) - 0.1260 * xi - 0.3516 * xi**2 + 0.2843 * xi**3 - 0.1036 * xi**4
    )
    ring = [*zip(xi[::-1], y[::-1]), *zip(xi[1:], -y[1:])]
    (tmp_path / "section.dat").write_text(
        "made up title\n" + "\n".join(f"{a:.7f} {b:.7f}" for a, b in ring), "utf-8"
    )
    file = tmp_path / "wing.toml"
    text = HEAD.format(top="").replace('profile = "0012"', 'coordinates = "section.dat"')
    file.write_text(text, "utf-8")
    through = whole_area(build(read(file), triangles=4000).skins[0])
    assert through == pytest.approx(whole_area(made().skins[0]), rel=1e-5)
    (tmp_path / "section.dat").write_text("title\n1 2\n3 nonsense\n", "utf-8")
    with pytest.raises(PartFileError) as caught:
        read(file)
    (mistake,) = caught.value.mistakes
    assert mistake.key == "section 1, coordinates"
    assert "section.dat" in mistake.given


def test_sections_from_another_file_put_the_piece_where_it_belongs(tmp_path: Path) -> None:
    placed = "[placement]\norigin = [10, 20, 30]\n"
    (tmp_path / "wing.toml").write_text(HEAD.format(top="") + placed, "utf-8")
    cover = tmp_path / "cover.toml"
    cover.write_text(
        'units = "in"\npart = "cover"\nshape = "access cover"\nform = "piece of skin"\n'
        'sections_from = "wing.toml"\nfrom_station = 50\nto_station = 60\nfrom_chord = 30\n'
        'to_chord = 50\n[measured]\nhow = "tape"\ntolerance = 2\n',
        "utf-8",
    )
    part = build(read(cover), triangles=2000)
    assert part.attached_to == "test wing"
    assert part.placement.origin == pytest.approx([10.0, 20.0, 30.0])
    assert part.skins[0].station.min() == pytest.approx(50 * 25.4)
    wing = build(read(tmp_path / "wing.toml"), triangles=4000)
    from mapper.surface.region import box

    same = box(wing.skins[0], stations=(1270.0, 1524.0), chord=(30.0, 50.0), side="upper")
    assert whole_area(part.skins[0]) == pytest.approx(area(wing.skins[0], same), rel=1e-6)
    (tmp_path / "wing.toml").write_text("units = 3\n", "utf-8")
    with pytest.raises(PartFileError, match="mistakes of its own"):
        read(cover)


def test_a_geometry_survives_its_bytes() -> None:
    wing = made(SEAMS + RIBS)
    again = from_bytes(to_bytes(wing))
    assert [p.name for p in again.panels] == [p.name for p in wing.panels]
    assert again.counted == wing.counted
    table = area_table(again)
    assert table["area_mm2"].tolist() == area_table(wing)["area_mm2"].tolist()


def test_a_seam_on_a_section_makes_two_panels_and_without_it_they_are_one() -> None:
    text = HEAD.format(top="").replace("[stations]", BREAK + "[stations]")
    seam = '[[seam]]\nname = "break"\nstation = 3000\n'
    one = build(read_text(text), triangles=4000)
    two = build(read_text(text + seam), triangles=4000)
    assert [p.name for p in one.panels] == ["whole skin"]
    assert [p.name for p in two.panels] == ["station 1000 to 3000", "station 3000 to 4000"]
    skin = two.skins[0]
    assert sum(area(skin, p.flat) for p in two.panels) == pytest.approx(whole_area(skin), rel=2e-6)


def test_the_wing_in_inches_is_as_large_as_hand_arithmetic_has_it() -> None:
    """Skin length of NACA 2412: 1.02803 + 1.01337 of the chord (quadrature), so 2.0414 x 62 1/2 in
    at the root and 2.0414 x 40 3/4 in at the tip; between them their mean times the span of 136 in,
    which rises by 5 degrees; less a filler opening of 3 1/4 in."""
    wing = build(read_text(example("loft-inches")))
    skin = wing.skins[0]
    edges = [v / 25.4 for v in edge_lengths(skin).values()]
    assert min(abs(e - 2.0414 * 62.5) for e in edges) < 0.02
    assert min(abs(e - 2.0414 * 40.75) for e in edges) < 0.02
    mean = 2.0414 * (62.5 + 40.75) / 2
    whole = mean * 136 / math.cos(math.radians(5)) - math.pi / 4 * 3.25**2
    # The leading edge is swept, and the sheet is inclined to it: a little more than its mean.
    assert sum(area(skin, p.flat) for p in wing.panels) / 25.4**2 == pytest.approx(whole, rel=0.005)
