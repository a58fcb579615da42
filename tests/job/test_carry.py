"""Entries carried to a corrected shape: there and back, by rib and spar, and to a scan."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.errors import MapperError
from mapper.job.carry.move import carrier, moves, renamed
from mapper.job.carry.scale import scale_of
from mapper.job.outlines import new_entry, outline_of
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read
from mapper.job.pieces import new_positions
from mapper.job.records import Part
from mapper.surface.clip import clean, whole
from mapper.surface.geometry import Geometry, Placement, Tolerance
from mapper.surface.imported.build import skins_of
from mapper.surface.imported.mend import mend
from mapper.surface.imported.read import RawMesh
from mapper.surface.measure import area
from mapper.surface.place import flat_of, flat_of_param, place_of, space_of
from mapper.surface.region import box, disc
from tests.job.test_book import book

FILE = """
units = "mm"
part = "right wing"
shape = "loft"
side = "{side}"

[measured]
how = "tape"
tolerance = 2

[[section]]
station = 0
chord = {root}
profile = "2412"

[[section]]
station = {middle}
chord = 1250
twist = {turn}

[[section]]
station = 3000
chord = 1000
twist = {twist}

[[seam]]
name = "splice"
station = 2200

[[rib]]
name = "rib 4"
station = {rib}

[[spar]]
name = "front spar"
chord = {spar}
"""
RIGHT: dict[str, Any] = {
    "side": "right", "root": 1500, "middle": 1500, "turn": -1.0, "twist": -3.0,
    "rib": 1000, "spar": 20,
}  # fmt: skip


def wing(**numbers: Any) -> Geometry:
    """A tapered and twisted wing of two charts, with a rib, a spar and a splice."""
    return build(read(FILE.format(**{**RIGHT, **numbers})), triangles=3000)


@cache
def original(side: str) -> Geometry:
    return wing(side=side)


def tenths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(10 * low), round(10 * high)).map(lambda n: n / 10)


corrections = st.fixed_dictionaries(
    {
        "root": tenths(1450, 1550),
        "middle": tenths(1440, 1560),
        "turn": tenths(-2, 1),
        "twist": tenths(-4, 0),
        "rib": tenths(960, 1040),
        "spar": tenths(17, 23),
    }
)


@settings(max_examples=5, deadline=None)
@given(corrections, st.sampled_from(["right", "left"]), st.sampled_from(["places", "stations"]))
def test_there_and_back_is_within_two_hundredths(
    numbers: dict[str, float], side: str, keep: str
) -> None:
    # The goal of .02 mm is the project's own.
    old, new = original(side), wing(side=side, **numbers)
    there, back = (carrier(*pair, "skin", keep) for pair in ((old, new), (new, old)))
    assert there is not None and back is not None
    skin = old.skin("skin")
    points = skin.flat[:: max(1, len(skin.flat) // 400)]
    again = back.points(there.points(points))
    # In space, for a place on the joint of two charts has a flat point on either.
    assert np.linalg.norm(space_of(skin, again) - space_of(skin, points), axis=1).max() < 0.02
    spot = disc(skin, flat_of(skin, 1480.0, 30.0, True)[0], 150)  # over the joint
    for region in (spot, box(skin, stations=(900, 2300), chord=(0, 35))):
        home = clean(back.shape(clean(there.shape(region))))
        odd = shapely.symmetric_difference(home, region).area
        assert odd < 0.02 * shapely.length(region)
        assert area(skin, home) == pytest.approx(area(skin, region), rel=1e-5)


@pytest.mark.parametrize("keep", ["places", "stations"])
def test_places_ahead_of_the_nose_come_back_too(keep: str) -> None:
    # On the upper side of a 2412 some mm lie ahead of the leading edge: their % chord is all 0.
    old, new = original("right"), wing(root=1530, twist=-1, spar=22)
    there, back = (carrier(*pair, "skin", keep) for pair in ((old, new), (new, old)))
    assert there is not None and back is not None
    skin = old.skin("skin")
    points = flat_of_param(skin, 0, np.linspace(-0.01, 0.01, 41), 0.4)
    again = back.points(there.points(points))
    assert np.linalg.norm(space_of(skin, again) - space_of(skin, points), axis=1).max() < 0.02


def test_places_stay_between_rib_section_and_spar() -> None:
    old, new = original("right"), wing(rib=1040, middle=1560, spar=22)
    by = carrier(old, new, "skin", "places")
    assert by is not None
    one, other = old.skin("skin"), new.skin("skin")
    # By hand: half way between root and rib, and half way from nose to spar.
    start = [(500, 10), (1000, 20), (1250, 60), (1500, 20), (1850, 100), (2200, 0), (2600, 60)]
    wanted = [(520, 11), (1040, 22), (1300, 61), (1560, 22), (1880, 100), (2200, 0), (2600, 61)]
    for upper in (True, False):
        found = place_of(other, by.points(flat_of(one, *np.array(start, float).T, upper)))
        told = np.stack([found.station, found.chord], axis=-1)
        assert np.abs(told - np.array(wanted)).max() < 1e-6
        assert np.all(found.upper == upper) or found.chord[5] < 1e-9
    stay = carrier(old, new, "skin", "stations")
    assert stay is not None
    found = place_of(other, stay.points(flat_of(one, *np.array(start, float).T, True)))
    assert np.abs(np.stack([found.station, found.chord], -1) - np.array(start)).max() < 1e-6


def test_a_region_is_the_region_between_the_new_marks() -> None:
    # The box from rib to splice ahead of the spar, made anew on the corrected shape, is the judge.
    old, new = original("right"), wing(rib=1040, middle=1560, root=1530, twist=-1)
    by = carrier(old, new, "skin", "places")
    assert by is not None
    was = box(old.skin("skin"), stations=(1000, 2200), chord=(0, 20), side="upper")
    wanted = box(new.skin("skin"), stations=(1040, 2200), chord=(0, 20), side="upper")
    found = clean(by.shape(was))
    assert shapely.symmetric_difference(found, wanted).area < 2e-5 * wanted.area
    assert area(new.skin("skin"), found) == pytest.approx(area(new.skin("skin"), wanted), rel=2e-5)


def test_marks_that_would_change_places_are_left_out_both_ways() -> None:
    old = [(("end", "first"), 0.0), (("end", "last"), 100.0), (("rib", "a"), 40.0),
           (("rib", "b"), 60.0), (("rib", "gone"), 70.0)]  # fmt: skip
    new = [(("end", "first"), 0.0), (("end", "last"), 110.0), (("rib", "a"), 70.0),
           (("rib", "b"), 50.0)]  # fmt: skip
    there, back = scale_of(old, new), scale_of(new, old)
    assert there.old.tolist() == [0, 40, 100] and there.new.tolist() == [0, 70, 110]
    assert back.old.tolist() == [0, 70, 110]
    value = np.array([-5.0, 20.0, 90.0, 103.0])
    assert back.forward(there.forward(value)) == pytest.approx(value)


def scanned(geometry: Geometry) -> Geometry:
    """The triangles of a loft as a scanner would give them, in the part's frame."""
    skin = geometry.skin("skin")
    raw = RawMesh("scan", "mm", skin.points, skin.triangles[:, ::-1])
    found = skins_of(mend(raw), ("skin",))
    return Geometry("right wing", "mesh", found.skins, Tolerance("scan", 1.0),
                    Placement(np.zeros(3), np.eye(3)))  # fmt: skip


def test_a_scan_takes_over_by_the_nearest_point() -> None:
    old = original("right")
    new = scanned(old)
    one, other = old.skin("skin"), new.skin("skin")
    by = carrier(old, new, "skin", "places")
    assert by is not None
    points = flat_of(one, [400.0, 1480, 2700], [10.0, 50, 80], True)
    far = space_of(other, by.points(points)) - space_of(one, points)
    # Triangles under the curve they were made of lie some hundredths of a mm inside it.
    assert np.linalg.norm(far, axis=1).max() < 0.5
    round_nose = clean(by.shape(box(one, stations=(1200, 1900), chord=(0, 15))))
    assert area(other, round_nose) == pytest.approx(
        area(one, box(one, stations=(1200, 1900), chord=(0, 15))), rel=3e-3
    )
    lines = by.shape(shapely.MultiLineString([points[:2]]))
    assert lines.geom_type == "MultiLineString" and not lines.is_empty
    assert len(by.shape(shapely.MultiPoint(points)).geoms) == 3


def test_plates_keep_flat_places_or_their_share_between_the_edges() -> None:
    text = """
units = "mm"
part = "plate"
shape = "plate"
form = "rectangle"
length = {x}
width = {y}

[measured]
how = "tape"
tolerance = 2
"""
    old, new = (build(read(text.format(x=x, y=y))) for x, y in ((300, 200), (330, 190)))
    name = old.skins[0].name
    points = np.array([[100.0, 50.0], [140.0, 98.0]])  # from the middle of the plate
    stay, share = (carrier(old, new, name, keep) for keep in ("stations", "places"))
    assert stay is not None and share is not None
    kept = stay.points(points)
    assert kept[0].tolist() == [100, 50] and np.isnan(kept[1]).all()
    assert share.points(points) == pytest.approx(np.array([[110, 47.5], [154, 93.1]]))


def ready(old: Geometry, new: Geometry) -> tuple[Any, Any]:
    """The book with a part on the old shape, and the same on the new one."""
    part = Part("part-1", "job-1", "a-1", "right wing", geometry="g-1")
    positions, items = new_positions(part, old)
    both = {"g-1": old, "g-2": new}
    before = book(entries=(), parts=(part,), positions=positions, items=items, geometries=both)
    more, things = new_positions(part, new)
    after = replace(
        before,
        parts=(replace(part, geometry="g-2"),),
        positions=(*positions, *more[1:]),
        items=(*items, *things[1:]),
    )
    return before, after


def put(before: Any, geometry: Geometry, where: Any) -> Any:
    return new_entry(
        before, "part-1", "finding", outline=outline_of(geometry, "skin", "outer", where)
    )


def test_what_moves_little_stays_trusted_and_signed_entries_never_move() -> None:
    old = original("right")
    for root, doubtful in ((1502, False), (1530, True)):
        new = wing(root=root)
        before, after = ready(old, new)
        entry = put(before, old, box(old.skin("skin"), stations=(400, 600), chord=(20, 40)))
        before = replace(before, entries=(entry,))
        (move,) = moves(before, after, "part-1", "places")
        assert move.doubtful is doubtful and bool(move.after.unconfirmed) is doubtful
        assert move.after.geometry == "g-2" and move.after.version == entry.version
        assert "rib_distance" in move.after.values or not move.after.values
        (signed,) = moves(before, after, "part-1", "places", sealed={entry.id})
        assert signed.after is entry and signed.stays == "signed" and not signed.doubtful
    assert moves(replace(before, entries=()), after, "part-1", "places") == ()


CAP = """
[[opening]]
name = "cap"
form = "round"
station = {at}
chord = 45
side = "upper"
diameter = 90
"""


def drilled(at: float, root: float) -> Geometry:
    """The wing of one splice with a filler cap in its inboard upper sheet."""
    text = FILE.format(**{**RIGHT, "root": root}) + CAP.format(at=at)
    return build(read(text), triangles=3000)


def test_a_whole_skin_stays_whole_and_an_openings_old_hole_does_not_stay() -> None:
    """The cap was entered 300 mm too far inboard, the root 40 mm too short. What was drawn over the
    whole skin covers the new one, cap and all (its area is that of the new sheet), and nobody has
    to look at it; a box round the old cap is whole where the cap was."""
    old, new = drilled(600, 1500), drilled(900, 1540)
    one, other = old.skins[0], new.skins[0]
    before, after = ready(old, new)
    everywhere = put(before, old, whole(one))
    about = put(before, old, box(one, stations=(300, 1200), chord=(30, 70), side="upper"))
    before = replace(before, entries=(everywhere, about))
    by_id = {m.before.id: m for m in moves(before, after, "part-1", "stations")}
    all_of = by_id[everywhere.id]
    assert all_of.whole and not all_of.doubtful and not all_of.after.unconfirmed
    sheet = sum(area(other, p.flat) for p in new.panels)
    assert sum(p.area for p in all_of.after.pieces) == pytest.approx(sheet, rel=1e-6)
    boxed = by_id[about.id].after.outline
    wanted = outline_of(
        new, "skin", "outer", box(other, stations=(300, 1200), chord=(30, 70), side="upper")
    )
    assert not by_id[about.id].whole
    assert boxed.shape.symmetric_difference(wanted.shape).area < 1e-3 * wanted.shape.area


def test_a_pit_keeps_its_own_size_where_its_bay_grows() -> None:
    """A spot of 13 mm radius is pi r2 = 531 mm2 before and after; the bay about it is a tenth
    longer."""
    old, new = original("right"), wing(rib=1100, middle=1500)
    one, other = old.skin("skin"), new.skin("skin")
    before, after = ready(old, new)
    (centre,) = flat_of(one, [500.0], [40.0], [True])
    pit = put(before, old, disc(one, centre, 13.0))
    before = replace(before, entries=(pit,))
    (move,) = moves(before, after, "part-1", "places")
    # The sheet is twisted, so that the flat map stretches by some thousandths.
    assert move.after.outline.drawn_area == pytest.approx(np.pi * 13.0**2, rel=5e-3)
    assert abs(move.area) < 1.0
    landed = place_of(other, shapely.get_coordinates(move.after.outline.shape.centroid))
    assert landed.station[0] == pytest.approx(550.0, abs=0.5)


def test_a_sheet_called_after_its_stations_is_the_same_under_its_new_name() -> None:
    old = original("right")
    new = build(read(FILE.format(**RIGHT).replace("station = 2200", "station = 2150")))
    for keep in ("places", "stations"):
        names = renamed(old, new, keep)
        assert sorted(names.values()) == sorted(p.name for p in new.panels)
        assert {k[1]: v for k, v in names.items()} == dict(
            zip([p.name for p in old.panels], [p.name for p in new.panels])
        )
    assert renamed(old, wing(root=1520), "places") == {}


def test_other_words_are_refused() -> None:
    with pytest.raises(MapperError, match="places or stations"):
        carrier(original("right"), original("right"), "skin", "both")
