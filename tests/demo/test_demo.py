"""The invented restoration: whole, the same on every run, and sound by the store's own check."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from demo.airframe import PARTS_MADE, part_file
from demo.build import build_shop
from demo.cast import CANS, FINISH_SYSTEMS, JOB, PEOPLE, SHOP, made_id
from demo.story import story
from demo.story.row import Disc, Ref, Row, at
from demo.story.story import ROWS, weighed
from mapper.errors import MapperError
from mapper.job.book import Book
from mapper.job.kinds import KINDS
from mapper.job.plain import to_plain
from mapper.store.shop import open_shop
from mapper.surface.region import openings_of
from tests.demo.small import CODES, build_small

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "shop"
    build_shop(folder)
    return folder


@pytest.fixture(scope="module")
def book(shop: Path) -> Book:
    with open_shop(shop) as store:
        return store.book(JOB.id)


def refs(value: Any) -> Iterator[Ref]:
    """Every Ref in a value, however deep."""
    if isinstance(value, Ref):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from refs(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from refs(inner)


def test_it_is_a_whole_aeroplane(book: Book) -> None:
    assert len(book.parts) == len(PARTS_MADE) >= 50
    shapes = {
        re.search(r'^shape = "(.*)"', part.part_file, re.M).group(1)  # type: ignore[union-attr]
        for part in book.parts
    }
    assert shapes >= {
        "fuselage", "cowling", "spinner", "fillet", "fairing", "flap", "aileron", "elevator",
        "rudder", "tab", "tip cap", "access cover", "rib", "spar web", "tube", "push-pull tube",
        "bell crank", "bracket", "fork end", "plate", "casting", "mesh",
    }  # fmt: skip
    assert {a.name for a in book.assemblies} >= {"fuselage", "right wing", "left wing"}
    assert len({part.code for part in book.parts}) == len(book.parts)


def test_the_story_is_long_and_of_every_kind(book: Book) -> None:
    assert len(book.entries) == len(ROWS) >= 400
    assert {entry.kind for entry in book.entries} == set(KINDS)
    assert min(Counter(entry.kind for entry in book.entries).values()) >= 8
    assert {entry.part_id for entry in book.entries} == {part.id for part in book.parts}
    assert {entry.region for entry in book.entries} == {"area", "line", "point", "place"}
    assert {entry.state for entry in book.entries} == {
        "open", "being worked on", "waiting for the inspector", "deferred", "closed",
    }  # fmt: skip
    times = [row.when for row in ROWS]
    assert max(times) - min(times) >= timedelta(days=420)
    assert len({row.when.date().replace(day=1) for row in ROWS}) >= 14


def test_every_word_of_the_story_leads_somewhere() -> None:
    keys = Counter(row.key for row in ROWS if row.key)
    assert max(keys.values()) == 1
    by_key = {row.key: row for row in ROWS if row.key}
    for row in ROWS:
        for ref in refs(dict(row.values)):
            if ref.kind != "entry":
                continue
            assert by_key[ref.key].part == row.part or row.kind == "removed part", (row, ref)
            # Nothing refers to what was written down later.
            assert by_key[ref.key].when <= row.when, (row.when, ref.key)


def test_nobody_works_at_night_or_at_two_places_at_one_moment() -> None:
    """Days are told apart as a shop's are: no week-end, no holidays between the years, no two
    entries of one person at one minute."""
    for row in ROWS:
        assert row.when.weekday() < 5, row.when
        assert 7 <= row.when.hour < 19, row.when
        assert (row.when.month, row.when.day) not in {(12, 24), (12, 25), (12, 26), (1, 1)}
    moments = Counter((row.when, row.who) for row in ROWS)
    assert [m for m, n in moments.items() if n > 1] == []
    weekdays = Counter(day.weekday() for day in {row.when.date() for row in ROWS})
    assert min(weekdays.values()) >= 8


def test_left_and_right_have_one_shape_and_their_own_paint(book: Book) -> None:
    codes = {part.code: part for part in book.parts}
    pairs = [(m.code, other.code) for m in PARTS_MADE for other in PARTS_MADE
             if other.file == m.file and other.left and not m.left]  # fmt: skip
    assert len(pairs) >= 14
    for right, left in pairs:
        ours, theirs = (book.geometries[codes[code].geometry] for code in (right, left))
        assert theirs.mirrored and not ours.mirrored
        areas = [float(g.skins[0].patch_area.sum()) for g in (ours, theirs)]
        assert areas[0] == pytest.approx(areas[1], rel=1e-12)
        assert codes[left].name == codes[right].name.replace("right", "left")

    def paint(code: str) -> set[Any]:
        zones = book.entries_of(codes[code].id)
        return {z.values.get("finish_system") for z in zones if z.kind == "coat zone"}

    painted = [pair for pair in pairs if paint(pair[0]) and paint(pair[1])]
    assert len(painted) >= 6
    alike = {pair for pair in painted if paint(pair[0]) == paint(pair[1])}
    # The engine mount's two tubes were painted in one go, and the brackets.
    assert alike <= {("EN-51", "EN-52"), ("RW-10", "LW-10")}


def test_a_coat_that_is_stripped_is_one_of_that_finish() -> None:
    stacks = {tuple((c["kind"], c["colour"]) for c in s.coats) for s in FINISH_SYSTEMS.values()}
    for row in ROWS:
        if row.kind == "application":
            (coat,) = row.values["coats"]
            assert any(
                len(stack) >= coat["number"]
                and stack[coat["number"] - 1] == (coat["kind"], coat["colour"])
                for stack in stacks
            )


def test_the_cans_are_weighed_through() -> None:
    goes = sorted((row for row in ROWS if row.poured), key=lambda row: row.when)
    assert len(goes) >= 100
    full = {number: scale for number, _, scale in CANS}
    seen: dict[str, float] = {}
    for row in goes:
        lot = row.values["lot"].key
        assert row.values["mass_before"] == seen.get(lot, full[lot])
        seen[lot] = row.values["mass_after"]
        assert row.values["mass_before"] - seen[lot] == pytest.approx(row.poured, abs=0.006)
        assert seen[lot] >= 0.29


def test_cans_that_are_not_there_are_not_poured_from(monkeypatch: pytest.MonkeyPatch) -> None:
    row = next(row for row in ROWS if row.poured)
    monkeypatch.setattr(story, "CANS", ((CANS[0][0], CANS[0][1], 0.5),))
    with pytest.raises(MapperError, match="No can is left"):
        weighed([row])
    monkeypatch.setattr(story, "CANS", ((CANS[0][0], at("2026-12-01 08:00").date(), 10.0),))
    with pytest.raises(MapperError, match="came on"):
        weighed([row])


def test_what_is_blasted_bears_it(book: Book) -> None:
    """Bead and sand on steel only, plastic media on aluminium of a millimetre or more, nothing on
    thin or plated sheet: common practice, no source."""
    codes = {part.id: part for part in book.parts}
    for entry in book.entries:
        if entry.kind != "blasting round":
            continue
        geometry = book.geometries[codes[entry.part_id].geometry]
        assert entry.outline is not None
        panel = next(p for p in geometry.panels if p.skin == entry.outline.skin)
        assert not panel.thin and "plated" not in panel.alloy
        if entry.values["media"] == "plastic media":
            assert "steel" not in panel.alloy
            assert panel.gauge is None or panel.gauge >= 1.0
        else:
            assert "steel" in panel.alloy
            assert entry.values["media"] == "glass bead" or "tube" in codes[entry.part_id].name


def test_outlines_are_drawn_by_hand_and_respect_openings(book: Book) -> None:
    """Rings, discs and spots end at the openings; few outlines are circles."""
    assert sum(isinstance(row.where, Disc) for row in ROWS) <= 5
    for entry in book.entries:
        if entry.outline is None or entry.outline.region != "area":
            continue
        pieces = sum(piece.area for piece in entry.pieces)
        assert pieces == pytest.approx(entry.outline.drawn_area, rel=1e-5, abs=1.0)
        hole = openings_of(book.geometries[entry.geometry], entry.outline.skin)
        # Rounded to the grid of a ten-thousandth of a millimetre along the opening's edge.
        assert entry.outline.shape.intersection(hole).area <= 1e-4 * hole.length


def test_sizes_are_not_all_alike() -> None:
    """Numbers that a hand measured are not all round, and no two goes last equally long by rule."""
    labour = [row.values["labour"] for row in ROWS if row.kind == "application"]
    assert len(set(labour)) >= 30
    assert sum(minutes % 5 == 0 for minutes in labour) < 0.4 * len(labour)
    minutes = [row.when.minute for row in ROWS]
    assert max(Counter(minutes).values()) < 0.12 * len(minutes)


def test_it_is_sound(shop: Path) -> None:
    with open_shop(shop) as store:
        assert store.verify().sound


def test_it_is_the_same_every_time(book: Book, tmp_path: Path) -> None:
    """A small part of it, built here and by another process that hashes words otherwise."""
    head = build_small(tmp_path / "here")
    words = (sys.executable, "-m", "tests.demo.small", str(tmp_path / "there"))
    other = {**os.environ, "PYTHONHASHSEED": "4711"}
    done = subprocess.run(words, env=other, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == head, done.stderr
    # Nor does it matter what else is built: shapes and entries are those of the whole.
    with open_shop(tmp_path / "here") as store:
        small = store.book(JOB.id)
    assert {part.code for part in small.parts} == CODES
    whole = {part.id: part for part in book.parts}
    assert all(whole[part.id].geometry == part.geometry for part in small.parts)
    named = {made_id("entry", row.key) for row in ROWS if row.key and row.part in CODES}
    assert len(named) >= 10
    for key in named:
        assert to_plain(small.entry(key)) == to_plain(book.entry(key))
    assert any(small.entry(key).photos for key in named)


def test_names_are_nobody_s() -> None:
    """Every person, firm and product is one of these invented words; new ones are looked at."""
    allowed = {
        "Mirl Tovane", "Ysane Kettro", "Dask Orrelin", "Ilvo Brannet", "Perrow Osmery",
        "Quarrow Metalwork", "Ossemby Tavrel 2", "QQ-TAV",
    }  # fmt: skip
    told = {p.name for p in PEOPLE.values()} | {SHOP.name, JOB.owner, JOB.airframe}
    assert told | {JOB.registration} == allowed
    products = {row.values["product"] for row in ROWS if "product" in row.values}
    firms = {p.split()[0] for p in products if p[0].isupper()}
    assert firms <= {"Quenlo"}
    by = {m for made in PARTS_MADE for m in re.findall(r'^by = "(.*)"', part_file(made), re.M)}
    assert by <= allowed


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", "utf-8")
    with pytest.raises(MapperError, match="holds something"):
        build_shop(tmp_path)
    assert (tmp_path / "mine.txt").read_text("utf-8") == "mine"


def row_of(key: str) -> Row:
    """The row of that key."""
    return next(row for row in ROWS if row.key == key)


def test_depths_tell_what_a_restorer_would_expect() -> None:
    """Worse on the exhaust side, and a finding that is seen again is not less deep."""
    deep = {key: row_of(key).values["depth_found"].value for key in ("exhaust pits", "left pits")}
    assert deep["exhaust pits"] > deep["left pits"]
    for row in ROWS:
        if "continues" in row.values and "depth_found" in row.values:
            earlier = row_of(row.values["continues"].key)
            if "depth_found" in earlier.values:
                assert row.values["depth_found"].value >= earlier.values["depth_found"].value - 0.02
