"""The open archive: nothing is lost on the way, and nothing foreign gets in."""

from __future__ import annotations

import io
import json
import shutil
import tempfile
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pandas as pd
import pytest
import shapely
import trimesh
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mapper.job.plain import to_plain
from mapper.job.records import Job, Person, Photo
from mapper.job.records import Shop as ShopRecord
from mapper.store.archive import layout
from mapper.store.archive.box import open_box
from mapper.store.archive.layout import SECTIONS
from mapper.store.archive.opened import closed, opened, to_wkt
from mapper.store.archive.read import read_archive, take_in
from mapper.store.archive.schema import schema
from mapper.store.archive.write import write_archive
from mapper.store.canonical import canonical, digest
from mapper.store.errors import ArchiveRefused, UndoRefused
from mapper.store.shop import Store, create
from tests.store.makers import ANN, BEN, JOB, OTHER, Clock, drawn, entry, new_shop, picture, shape

NUMBERS = st.floats(allow_nan=False, allow_infinity=False, width=64)


def everything(store: Store) -> dict[str, list[dict[str, Any]]]:
    """What a job holds, versions aside: they count the changes in one shop."""
    book = store.book(JOB)
    used = {e.by for e in book.entries} | {ANN, BEN}
    return {
        name: [
            to_plain(r) | {"version": 0}
            for r in getattr(book, name)
            if name != "people" or r.id in used
        ]
        for name in SECTIONS
    } | {"job": [to_plain(book.job) | {"version": 0}]}


@pytest.mark.parametrize("name", ["job.zip", "job"])
def test_a_job_goes_through_an_archive_without_loss(
    full: Store, other: Store, tmp_path: Path, name: str
) -> None:
    made = write_archive(full, JOB, tmp_path / name)
    assert made.photos == 1
    assert made.missing == ()
    with open_box(tmp_path / name) as box:
        found = read_archive(box)
        # Read back, versions and all.
        for section in SECTIONS:
            there = [to_plain(r) for r in getattr(full.book(JOB), section)]
            assert [to_plain(r) for r in getattr(found.book, section)] == there
        assert found.book.head == full.head()
        answer = take_in(other, box, OTHER)
    assert everything(other) == everything(full)
    assert other.verify().sound
    assert full.head()[:16] in answer.rows[0].words
    (photo,) = other.book(JOB).photos
    assert other.photo(photo.digest) == full.photo(photo.digest)
    for key, geometry in full.book(JOB).geometries.items():
        there_ = other.book(JOB).geometries[key]
        assert np.array_equal(there_.skins[0].points, geometry.skins[0].points)


def test_the_history_goes_along_from_shop_to_shop(
    full: Store, other: Store, tmp_path: Path
) -> None:
    first = write_archive(full, JOB, tmp_path / "one.zip")
    with open_box(tmp_path / "one.zip") as box:
        take_in(other, box, OTHER)
    with other.act(OTHER, "seen here", clock_offset_ms=-90_000) as action:
        action.add(entry("seen", note="a later finding"))
    write_archive(other, JOB, tmp_path / "two.zip")
    with open_box(tmp_path / "one.zip") as one, open_box(tmp_path / "two.zip") as two:
        earlier, later = read_archive(one).rows, read_archive(two).rows
    assert len(earlier) == first.changes > 20
    assert later[: len(earlier)] == earlier
    assert later[-1]["record_id"] == "seen"
    # How far a clock was off goes along where it was compared.
    assert later[-1]["clock_offset_ms"] == -90_000
    assert [r["clock_offset_ms"] for r in earlier if "clock_offset_ms" in r] == [-7_200_000]
    assert any(row["words"] == "wrong" and row["op"] == "remove" for row in later)


def test_what_is_taken_in_can_be_taken_back_and_brought_again(
    full: Store, other: Store, tmp_path: Path
) -> None:
    write_archive(full, JOB, tmp_path / "job.zip")
    with open_box(tmp_path / "job.zip") as box:
        take_in(other, box, OTHER)
    other.undo(OTHER)
    assert other.jobs() == ()
    assert other.verify().sound
    other.redo(OTHER)
    assert everything(other) == everything(full)
    assert other.verify().sound
    with pytest.raises(UndoRefused):
        other.redo(OTHER)


def test_an_archive_is_never_taken_in_over_its_job(full: Store, tmp_path: Path) -> None:
    write_archive(full, JOB, tmp_path / "job.zip")
    head = full.head()
    with open_box(tmp_path / "job.zip") as box, pytest.raises(ArchiveRefused, match="already"):
        take_in(full, box, ANN)
    assert full.head() == head


def test_the_same_action_twice_is_done_once(full: Store, other: Store, tmp_path: Path) -> None:
    write_archive(full, JOB, tmp_path / "job.zip")
    with open_box(tmp_path / "job.zip") as box:
        first = take_in(other, box, OTHER, "take-in")
        again = take_in(other, box, OTHER, "take-in")
    assert again.repeated
    assert (again.head, again.rows) == (first.head, first.rows)
    assert other.head() == first.head


def test_an_archive_writes_over_nothing(full: Store, tmp_path: Path) -> None:
    (tmp_path / "job.zip").write_bytes(b"mine")
    with pytest.raises(ArchiveRefused, match="there already"):
        write_archive(full, JOB, tmp_path / "job.zip")
    assert (tmp_path / "job.zip").read_bytes() == b"mine"


def test_a_missing_photo_is_said_and_stops_only_the_taking_in(
    full: Store, other: Store, tmp_path: Path
) -> None:
    (photo,) = full.book(JOB).photos
    (full.folder / "photos" / photo.digest[:2] / photo.digest).unlink()
    made = write_archive(full, JOB, tmp_path / "job.zip")
    assert made.missing == (f"photo {photo.digest} is missing",)
    with open_box(tmp_path / "job.zip") as box:
        assert read_archive(box).missing == made.missing
        with pytest.raises(ArchiveRefused, match="lacks photo"):
            take_in(other, box, OTHER)
    assert other.jobs() == ()


def test_only_people_and_lots_of_the_job_go_along(full: Store, tmp_path: Path) -> None:
    with full.act(ANN, "another job") as action:
        action.add(Person("person-zed", "Zed, of another job"))
        action.add(Job("job-2", "Glider"))
    write_archive(full, JOB, tmp_path / "job")
    everything_written = b"".join(p.read_bytes() for p in (tmp_path / "job").rglob("*.json*"))
    assert b"Zed" not in everything_written
    assert b"Glider" not in everything_written


# -- readable without us


def test_the_schema_describes_what_is_written(full: Store, tmp_path: Path) -> None:
    write_archive(full, JOB, tmp_path / "job")
    told = json.loads((tmp_path / "job" / layout.SCHEMA).read_text())
    assert told == json.loads(json.dumps(schema()))
    judge = jsonschema.Draft202012Validator(
        told, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    judge.check_schema(told)  # judged by the reference library
    content = json.loads((tmp_path / "job" / layout.JOB).read_text())
    judge.validate(content)
    for spoil in (
        lambda c: c["entries"][0].pop("part_id"),
        lambda c: c["entries"][0].update(state="serviceable"),
        lambda c: c["entries"][0]["values"].update(nonsense=1),
        lambda c: c["job"].update(opened="soon"),
        lambda c: c["parts"][0].update(version=-1),
        lambda c: c.update(secret="x"),
    ):
        spoilt = json.loads(json.dumps(content))
        spoil(spoilt)
        assert not judge.is_valid(spoilt)


def test_regions_shapes_and_tables_are_read_by_other_libraries(full: Store, tmp_path: Path) -> None:
    with full.act(ANN, "formula") as action:
        action.add(entry("formula", note="=2+2"))
    write_archive(full, JOB, tmp_path / "job")
    content = json.loads((tmp_path / "job" / layout.JOB).read_text())
    (with_outline,) = (e for e in content["entries"] if e["outline"])
    region = shapely.from_wkt(with_outline["outline"]["shape"])
    there = next(e for e in full.book(JOB).entries if e.outline is not None)
    assert region.equals_exact(there.outline.shape, 0.0)
    # A mesh library of others reads the skin, and finds its area.
    (mesh_file,) = (tmp_path / "job" / "geometry").glob("*-1.ply")
    mesh = trimesh.load(mesh_file, process=False)
    assert mesh.area == pytest.approx(1400 * 600, rel=1e-12)
    findings = pd.read_csv(tmp_path / "job" / "tables" / "findings.csv")
    assert "'=2+2" in set(findings["note"])
    assert findings["area_mm2"].max() == pytest.approx(there.outline.drawn_area)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(NUMBERS, NUMBERS), min_size=1, max_size=8))
def test_points_as_text_come_back_to_the_last_bit(points: list[tuple[float, float]]) -> None:
    shape_ = shapely.multipoints(np.array(points))
    back = shapely.from_wkt(to_wkt(shape_))
    one, two = (shapely.get_coordinates(s).view(np.uint64) for s in (shape_, back))
    assert np.array_equal(one, two)


TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    notes=st.lists(TEXTS, min_size=1, max_size=4),
    corners=st.integers(3, 60),
    turns=st.lists(st.sampled_from(("undo", "redo", "change")), max_size=4),
)
def test_whatever_was_recorded_comes_back(notes: list[str], corners: int, turns: list[str]) -> None:
    folder = Path(tempfile.mkdtemp())
    try:
        with new_shop(folder / "shop") as store:
            with store.act(ANN, "shape") as action:
                key = action.add_geometry(shape())
                action.add(drawn("drawn", key, corners))
            for number, note in enumerate(notes):
                with store.act(BEN, "note") as action:
                    action.add(entry(f"e{number}", note=note))
            for turn in turns:
                try:
                    if turn == "change":
                        with store.act(BEN, "change") as action:
                            old = store.book(JOB).entries[0]
                            action.change(type(old)(**{**old.__dict__, "note": "again"}))
                    else:
                        getattr(store, turn)(BEN)
                except UndoRefused:
                    pass
            write_archive(store, JOB, folder / "job.zip")
            with open_box(folder / "job.zip") as box:
                found = read_archive(box)
            for name, cls in SECTIONS.items():
                records = getattr(store.book(JOB), name)
                assert [to_plain(r) for r in getattr(found.book, name)] == [
                    to_plain(r) for r in records
                ]
                for record in records:
                    plain = to_plain(record)
                    assert canonical(closed(cls, opened(cls, plain))) == canonical(plain)
    finally:
        shutil.rmtree(folder)


def test_bytes_of_a_photo_are_compared_with_its_record(store: Store) -> None:
    data = picture()
    with pytest.raises(Exception, match="other bytes"), store.act(ANN, "photo") as action:
        action.bring_photo(
            Photo("p", JOB, digest(data), digest(data), "image/jpeg", 64, 48), data + b"x"
        )


def test_an_empty_job_has_an_archive_too(tmp_path: Path) -> None:
    with create(
        tmp_path / "shop", ShopRecord("shop-3", "New"), Person(ANN, "Ann"), now=Clock()
    ) as store:
        with store.act(ANN, "job") as action:
            action.add(Job(JOB, "Nothing yet"))
        write_archive(store, JOB, tmp_path / "job")
        with open_box(tmp_path / "job") as box:
            assert read_archive(box).book.parts == ()
    heads = (tmp_path / "job" / "tables" / "parts.csv").read_text()
    assert pd.read_csv(io.StringIO(heads)).empty
