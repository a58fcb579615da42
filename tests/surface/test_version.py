"""Geometry versions: the same bytes always, the same answers to the last bit, clear words else."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest
import shapely

from mapper.errors import MapperError
from mapper.surface.build import make_skin
from mapper.surface.geometry import (
    Bay,
    Geometry,
    Lap,
    MapLine,
    Opening,
    Panel,
    Placement,
    Tolerance,
)
from mapper.surface.lines import chord_line, station_line
from mapper.surface.place import flat_at_space, flat_of, normal_of, place_of, space_of
from mapper.surface.version import digest, from_bytes, to_bytes
from meshes.loft import LoftPlan, LoftSection, loft
from meshes.rib import rib
from meshes.sections import Coordinates, Naca4
from meshes.tube import tube

SECTIONS = (
    LoftSection(0.0, 1500.0, Naca4("2412", closed=False)),
    LoftSection(1000.0, 1200.0, Naca4("2412", closed=False), dihedral=2.0),
    LoftSection(
        3000.0, 900.0, Coordinates(Naca4("0012").at(np.linspace(1.0, -1.0, 41)), "measured"), 2.0
    ),
)


def geometry(mirrored: bool) -> Geometry:
    sheets = [loft(SECTIONS)[0], tube(22.0, 20.0, 500.0)[0], rib(LoftPlan(SECTIONS), 700.0)[0]]
    skins = tuple(make_skin(s, mirrored=mirrored, triangles=2000) for s in sheets)
    wing = skins[0]
    box = shapely.MultiPolygon([shapely.box(100.1, 50.3, 200.7, 90.9)])
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    hinge = np.array([[900.0, 0.0, 1.0], [800.0, 3000.0, 90.0]])
    return Geometry(
        "left wing" if mirrored else "right wing",
        "loft",
        skins,
        Tolerance("tape", 2.0, "by two people"),
        Placement(np.array([1.0, 2.0, 1.0 / 3.0]), turn),
        lines=(
            MapLine("rib 2", "rib", "skin", station_line(wing, 700.0)),
            MapLine("spar", "spar", "skin", chord_line(wing, 30.0), pitch=25.4, side="upper"),
            MapLine("hinge", "hinge line", "", shapely.MultiLineString(), space=hinge),
        ),
        panels=(Panel("A", "skin", box, "2024-T3", 0.81, "clad", True, "upper", "nominal"),),
        bays=(Bay("1", "skin", shapely.MultiPolygon()),),
        openings=(Opening("filler", "skin", box),),
        laps=(Lap("lap", "skin", box, 123.456),),
        datum=0.1 + 0.2,
        mirrored=mirrored,
        bearings_inside=True,
        attached_to="centre section",
        counted=("outer face once", "no ribs"),
    )


PARTS = {mirrored: geometry(mirrored) for mirrored in (False, True)}


@pytest.mark.parametrize("mirrored", [False, True])
def test_everything_comes_back_to_the_last_bit(mirrored: bool) -> None:
    part = PARTS[mirrored]
    data = to_bytes(part)
    back = from_bytes(data)
    assert to_bytes(back) == data
    assert (back.part, back.datum, back.counted, back.tolerance) == (
        part.part,
        part.datum,
        part.counted,
        part.tolerance,
    )
    for one, other in zip(part.skins, back.skins, strict=True):
        for name in ("points", "flat", "param", "triangles", "chart_of", "patch_area", "station"):
            a, b = getattr(one, name), getattr(other, name)
            assert a.dtype == b.dtype and np.array_equal(a, b) and not b.flags.writeable
        assert np.array_equal(one.chord, other.chord, equal_nan=True)
        assert one.glue == other.glue and one.face_names == other.face_names
        flat = one.flat[one.triangles[::5]].mean(axis=1)
        for question in (space_of, normal_of):
            assert np.array_equal(question(one, flat), question(other, flat))
        a, b = place_of(one, flat), place_of(other, flat)
        assert np.array_equal(a.station, b.station)
        assert np.array_equal(a.chord, b.chord, equal_nan=True)
        xyz = space_of(one, flat[:50])
        assert np.array_equal(flat_at_space(one, xyz)[0], flat_at_space(other, xyz)[0])
        for first, second in zip(one.charts, other.charts, strict=True):
            assert np.array_equal(first.rim, second.rim)
            assert (first.name, first.first, first.last) == (second.name, second.first, second.last)
    places = flat_of(part.skins[0], [500.0, 2500.0], [20.0, 60.0], [True, False])
    assert np.array_equal(places, flat_of(back.skins[0], [500, 2500], [20, 60], [True, False]))
    assert back.lines[1].flat.equals_exact(part.lines[1].flat, 0.0)
    assert np.array_equal(back.lines[2].space, part.lines[2].space)
    assert back.panels[0].gauge == 0.81 and back.panels[0].gauge_how == "nominal"
    assert back.laps[0].hidden_area == 123.456 and back.bays[0].flat.is_empty
    assert np.array_equal(back.placement.rotation, part.placement.rotation)


def test_the_same_shape_gives_the_same_name() -> None:
    first, again = to_bytes(geometry(False)), to_bytes(geometry(False))
    assert digest(first) == digest(again) == hashlib.sha256(first).hexdigest()
    assert digest(first) != digest(to_bytes(PARTS[True]))


def test_cut_short_anywhere_is_said() -> None:
    data = to_bytes(PARTS[False])
    for size in (0, 5, 27, 33, 40, 1000, len(data) // 2, len(data) - 1):
        with pytest.raises(MapperError) as caught:
            from_bytes(data[:size])
        assert "cut short" in str(caught.value) or "not a geometry version" in str(caught.value)


def test_foreign_newer_long_and_damaged_bytes_are_refused() -> None:
    data = to_bytes(PARTS[False])
    for bad, words in (
        (b"PK\x03\x04" + data, "not a geometry version"),
        (data.replace(b"version 1", b"version 2", 1), "newer release"),
        (data + b"\0" * 8, "Both must agree"),
        (data[:60] + b"\xff\xfe" + data[62:], "damaged"),
        (data.replace(b'"type":"Tolerance"', b'"type":"Toleranza"', 1), "damaged"),
        (data.replace(b"cone map/1", b"cone map/9", 1), "newer release"),
        (data.replace(b"ruled/1", b"ruled/9", 1), "newer release"),
        (data.replace(b'"<f8"', b'"<c8"', 1), "damaged"),
    ):
        with pytest.raises(MapperError, match=words):
            from_bytes(bad)


def test_any_single_damage_never_ends_in_a_traceback() -> None:
    data = bytearray(to_bytes(PARTS[False]))
    rng = np.random.default_rng(7)
    for place in rng.integers(0, 8000, 150):
        bad = bytearray(data)
        bad[place] ^= 1 << int(rng.integers(0, 8))
        # Either refused with a clear word, or a readable version of another name.
        try:
            back = from_bytes(bytes(bad))
        except MapperError:
            continue
        assert isinstance(back, Geometry) and digest(bytes(bad)) != digest(bytes(data))


def test_geometries_refuse_what_does_not_fit() -> None:
    part = PARTS[False]
    with pytest.raises(MapperError, match="measured by"):
        Tolerance("guess", 2.0)
    with pytest.raises(MapperError, match="0 to 100"):
        Tolerance("tape", -1.0)
    with pytest.raises(MapperError, match="mirrors"):
        Placement(np.zeros(3), np.diag([1.0, -1.0, 1.0]))
    with pytest.raises(MapperError, match="lies on the skin 'keel'"):
        Geometry(
            "x",
            "loft",
            part.skins,
            part.tolerance,
            part.placement,
            openings=(Opening("o", "keel", shapely.MultiPolygon()),),
        )
    with pytest.raises(MapperError, match="its own name"):
        Geometry("x", "loft", part.skins[:1] * 2, part.tolerance, part.placement)
