"""Inner structure in its bays: by geometry alone, either hand, and over all parts of a job."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mapper.job.bays import bays_of, contents_of, housed
from mapper.job.book import Book
from mapper.job.inner import (
    LINE,
    WHOLE,
    bay_list,
    lies_in,
    lies_words,
    own_structure,
    rooms_of,
)
from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.records import Assembly, Job, Part, Shop, new_id
from mapper.surface.geometry import Geometry, Placement
from mapper.surface.region import union
from mapper.surface.within import SLACK

SAID = '[measured]\nhow = "tape"\ntolerance = 2\n'
WING = f"""units = "mm"
part = "SIDE wing"
shape = "loft"
side = "SIDE"
{SAID}
[[section]]
station = 0
chord = 1200
profile = "2412"
[[section]]
station = 2000
chord = 900
twist = -2
[placement]
origin = [300, 500, 40]
rotation = [4, 2, 0]
"""
STRUCTURE = """
[[rib]]
name = "rib 1"
station = 400
[[rib]]
name = "rib 2"
station = 900
[[rib]]
name = "rib 3"
station = 1500
web = true
[[spar]]
name = "front spar"
chord = 20
[[spar]]
name = "rear spar"
chord = 65
[[stringer]]
name = "stringer 1"
from_station = 100
from_chord = 40
to_station = 1300
to_chord = 40
side = "upper"
"""
MIDDLE, NOSE, REAR = (
    "front spar to rear spar",
    "forward of the front spar",
    "rear spar to trailing edge",
)


@cache
def part(text: str) -> Geometry:
    return build(read_text(text), triangles=1000)


@cache
def wing(side: str = "right", structure: str = STRUCTURE) -> Geometry:
    return part(WING.replace("SIDE", side) + structure)


def sheet_text(name: str, wide: float = 60, more: str = "") -> str:
    """A flat plate of 60 by 40 mm about its own zero."""
    corners = [[-wide / 2, -20], [wide / 2, -20], [wide / 2, 20], [-wide / 2, 20]]
    return (
        f'units = "mm"\npart = "{name}"\nshape = "plate"\nform = "polygon"\ncorners = {corners}\n'
        f"{SAID}{more}"
    )


def at(geometry: Geometry, origin, turn=None) -> Geometry:
    placement = Placement(np.asarray(origin, float), np.eye(3) if turn is None else turn)
    return replace(geometry, placement=placement)


def in_wing(parent: Geometry, piece: Geometry, place) -> Geometry:
    """The piece with its zero at a point of the wing's frame (of the right-hand one)."""
    inside = np.array(place, float) * ([1, -1, 1] if parent.mirrored else 1)
    put = parent.placement
    return at(piece, put.origin + put.rotation @ inside, put.rotation)


def names(pairs) -> list[str]:
    return [name for name, _ in pairs]


def test_the_rooms_of_a_wing_have_an_upper_and_a_lower_side():
    rooms = rooms_of(wing())
    along = ("root to rib 1", "rib 1 to rib 2", "rib 2 to rib 3", "rib 3 to tip")
    assert {r.name for r in rooms} == {f"{a}, {b}" for a in along for b in (MIDDLE, NOSE, REAR)}
    # Every bay of the skin closes one room, none is used twice.
    assert sum(r.flat.area for r in rooms) == pytest.approx(
        sum(b.flat.area for b in wing().bays), rel=1e-9
    )
    assert [r.name for r in rooms_of(part(sheet_text("plate")))] == [WHOLE]
    # Were the upper side one bay, it would be matched once and no piece of skin lost or doubled.
    upper = [b for b in wing().bays if b.name.startswith("upper")]
    others = [b for b in wing().bays if not b.name.startswith("upper")]
    one = replace(upper[0], name="upper", flat=union(*(b.flat for b in upper)))
    odd = replace(wing(), bays=(one, *others))
    assert sum(r.flat.area for r in rooms_of(odd)) == pytest.approx(
        sum(b.flat.area for b in odd.bays), rel=1e-9
    )


@settings(max_examples=30, deadline=None)
@given(st.floats(45, 1955), st.floats(2, 94), st.booleans())
def test_a_small_piece_lies_in_the_bay_its_numbers_say(station, chord, left):
    """The stations of ribs and the % chord of spars say which bay it is; the piece, turned fore and
    aft so that it is 40 mm long outboard and 60 mm aft, is put there by the part's own sizes."""
    parent = wing("left" if left else "right")
    long = 1200 - 0.15 * station
    quarter, twist = 300.0, np.radians(-2.0 * station / 2000.0)
    rest = (chord / 100 - 0.25) * long
    place = [quarter + rest * np.cos(twist), station, -rest * np.sin(twist) + 0.02 * long]
    piece = in_wing(parent, part(sheet_text("cleat")), place)
    lies = lies_in(piece, parent)
    reach = 100.0 * 32.0 / long
    rib = min(abs(station - s) for s in (400, 900, 1500))
    spar = min(abs(chord - c) for c in (20, 65))
    if rib > 32 + LINE and spar > reach + 100 * LINE / long and 8 < chord < 80 - reach:
        row = ("root", "rib 1", "rib 2", "rib 3", "tip")
        k = int(np.searchsorted([400, 900, 1500], station))
        across = NOSE if chord < 20 else MIDDLE if chord < 65 else REAR
        assert names(lies.inside) == [f"{row[k]} to {row[k + 1]}, {across}"]
        assert lies.inside[0][1] == pytest.approx(1.0) and lies.bounds == ()
    assert lies.parent == parent.part and lies.skin == "skin"


@pytest.mark.parametrize("side", ["right", "left"])
def test_a_rib_bounds_the_bays_on_both_sides(side):
    rib = part(rib_text(side))
    lies = lies_in(rib, wing(side))
    assert lies.inside == () and lies.outside == 0.0
    assert set(lies.bounds) == {
        f"{along}, {across}"
        for along in ("rib 1 to rib 2", "rib 2 to rib 3")
        for across in (NOSE, MIDDLE, REAR)
    }
    # Of the other hand it stands on the other side of the aircraft.
    other = lies_in(rib, wing("left" if side == "right" else "right"))
    assert other.outside == 1.0 and lies_words(other).startswith("lies outside")
    # Moved to where no rib is it lies in bays, not on their bounds (but for those of the spars).
    inboard = replace(
        rib,
        placement=in_wing(wing(side), rib, [0, -150, 0]).placement,
    )
    moved = lies_in(inboard, wing(side))
    assert set(names(moved.inside)) == {f"rib 1 to rib 2, {a}" for a in (NOSE, MIDDLE, REAR)}


def rib_text(side: str) -> str:
    text = WING.replace("SIDE wing", "rib two").replace("SIDE", side)
    return text.replace('shape = "loft"', 'shape = "rib"\nstation = 900\nto_chord = 98')


def test_lines_and_webs_of_the_shape_itself():
    found = {(one.kind, one.piece): one for one in own_structure(wing())}
    rib = found["rib", "rib 1"]
    assert rib.inside == () and len(rib.bounds) == 6
    assert {b.split(",")[0] for b in rib.bounds} == {"root to rib 1", "rib 1 to rib 2"}
    spar = found["spar", "rear spar"]
    assert spar.inside == () and {b.split(", ")[1] for b in spar.bounds} == {MIDDLE, REAR}
    end = wing("right", STRUCTURE + '[[rib]]\nname = "end rib"\nstation = 2000\n')
    (tip,) = (one for one in own_structure(end) if one.piece == "end rib")
    assert tip.inside == () and {b.split(",")[0] for b in tip.bounds} == {"rib 3 to end rib"}
    web = found["web", "rib 3 web"]
    assert web.inside == () and set(web.bounds) == set(found["rib", "rib 3"].bounds)
    stringer = found["stringer", "stringer 1"]
    assert names(stringer.inside) == [
        f"{a}, {MIDDLE}" for a in ("root to rib 1", "rib 1 to rib 2", "rib 2 to rib 3")
    ]
    # 300, 500 and 400 mm of 1200, less 5 mm beside each rib.
    assert [s for _, s in stringer.inside] == pytest.approx([295 / 1200, 490 / 1200, 395 / 1200],
                                                            abs=0.01)  # fmt: skip


def test_what_crosses_bays_and_sticks_out():
    lies = lies_in(in_wing(wing(), part(rod_text()), [420, -300, 20]), wing())
    assert names(lies.inside) == [f"root to rib 1, {MIDDLE}", f"rib 1 to rib 2, {MIDDLE}"]
    # 300 of its 1000 mm stick out, of which SLACK count as inside.
    assert lies.outside == pytest.approx(0.3 - SLACK / 1000, abs=0.02)
    assert lies_words(lies).endswith(f"; {100 * lies.outside:.0f} % of it lies outside")


def test_a_part_without_ribs_is_one_bay():
    bare = wing("right", "")
    cleat = in_wing(bare, part(sheet_text("cleat")), [400, 1000, 20])
    assert lies_in(cleat, bare).inside == ((WHOLE, 1.0),)
    assert lies_in(in_wing(bare, cleat, [400, 1000, 400]), bare).inside == ()
    assert "all of it is one bay" in lies_words(lies_in(cleat, bare))


def test_bays_of_a_body_by_frames_and_angle():
    text = f"""units = "mm"
part = "body"
shape = "fuselage"
{SAID}
[[cross_section]]
station = 0
width = 900
depth = 1000
form = "ellipse"
[[cross_section]]
station = 3000
width = 800
depth = 900
[[frame]]
name = "frame 1"
station = 1000
web = true
[[frame]]
name = "frame 2"
station = 2000
[[longeron]]
name = "right longeron"
angle = 60
[[longeron]]
name = "left longeron"
angle = 300
"""
    body = part(text)
    cleat = part(sheet_text("cleat"))
    lies = lies_in(at(cleat, [1500, 300, -100]), body)
    assert [n.split(",")[0] for n in names(lies.inside)] == ["frame 1 to frame 2"]
    top = lies_in(at(cleat, [1500, 0, 300]), body)
    assert top.inside != lies.inside and len(top.inside) == 1
    web = next(one for one in own_structure(body) if one.kind == "web")
    assert {n.split(",")[0] for n in web.bounds} == {"front to frame 1", "frame 1 to frame 2"}


def test_bays_in_short():
    assert bay_list([]) == ""
    assert bay_list(["a to b, x"]) == "a to b, x"
    assert bay_list(["a to b, x", "b to c, x"]) == "a to b and b to c, x"
    rows = [f"{a} to {b}, {c}" for a, b in ("ab", "bc", "cd") for c in "yx"]
    assert bay_list(rows) == "a to d (3 bays) (x; y)"
    assert bay_list(["a to b", "c to d, x"]) == "a to b; c to d, x"


def book_of(*pieces: tuple[str, str]) -> Book:
    """A job of parts from (name in the shop, part file)."""
    job, assembly = new_id(), new_id()
    shapes = {f"{k:064d}": part(text) for k, (_, text) in enumerate(pieces)}
    return Book(
        Shop(new_id(), "shop"),
        Job(job, "job"),
        (),
        (Assembly(assembly, job, "all"),),
        tuple(
            Part(new_id(), job, assembly, name, "", digest, text)
            for (name, text), digest in zip(pieces, shapes)
        ),
        (), (), (), (), (), (),
        shapes,
        {},
    )  # fmt: skip


def rod_text(more: str = "") -> str:
    """A tube 1 m long."""
    size = 'shape = "tube"\ndiameter = 20\nlength = 1000\n'
    return f'units = "mm"\npart = "rod"\n{size}{SAID}{more}'


ATTACHED = '[attachment]\nto = "right wing"\norigin = [400, 600, 15]\n'


def test_over_a_job():
    right = WING.replace("SIDE", "right") + STRUCTURE
    book = book_of(
        ("wing, right", right),
        ("cleat", sheet_text("cleat", more=ATTACHED)),
        ("placed", sheet_text("placed", more="[placement]\norigin = [730, 1080, 102]\n")),
        ("nowhere", sheet_text("nowhere")),
        ("far", sheet_text("far", more="[placement]\norigin = [9000, 0, 0]\n")),
        ("lost", sheet_text("lost", more=ATTACHED.replace("right wing", "keel"))),
        ("rod", rod_text("[placement]\norigin = [730, -200, 102]\n")),
        ("loose", sheet_text("loose", more=ATTACHED.replace("600, 15", "600, 900"))),
    )
    ids = {p.name: p.id for p in book.parts}
    # In the wing's own frame, of which only the name is known: the wing's placement is not its.
    (cleat,) = housed(book, ids["cleat"])
    assert cleat.parent_id == ids["wing, right"]
    assert names(cleat.lies.inside) == [f"rib 1 to rib 2, {MIDDLE}"]
    assert names(housed(book, ids["placed"])[0].lies.inside) == [f"rib 1 to rib 2, {MIDDLE}"]
    for name in ("nowhere", "far", "lost", "rod", "wing, right"):
        assert housed(book, ids[name]) == ()
    (loose,) = housed(book, ids["loose"])
    assert loose.lies.outside == 1.0 and loose.lies.inside == ()
    whole = bays_of(book)
    assert [h.lies.piece for h in whole if h.part_id] == ["cleat", "placed", "loose"]
    assert {h.lies.kind for h in whole} == {"rib", "spar", "stringer", "web", "part"}
    bays = {c.bay: c for c in contents_of(book, ids["wing, right"])}
    held = bays[f"rib 1 to rib 2, {MIDDLE}"]
    assert held.inside == ("stringer 1", "cleat", "placed")
    assert set(held.bounds) == {"rib 1", "rib 2", "front spar", "rear spar"}
    assert bays[f"rib 3 to tip, {NOSE}"].inside == ()
    assert contents_of(book, ids["nowhere"])[0].bay == WHOLE
