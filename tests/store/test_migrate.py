"""Every schema a shop was ever written with is carried over, whole or not at all."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine, inspect

from mapper.store import migrate, shop
from mapper.store.errors import NoSuchRecord, ShopDamaged, ShopTooNew, StoreError
from mapper.store.migrate import VERSIONS, upgrade
from mapper.store.shop import Store, open_shop
from mapper.store.tables import SCHEMA, metadata
from tests.store.freeze import FROZEN, counts
from tests.store.makers import ANN, JOB, entry, new_shop

# A migration as somebody may write one day: rewrites the table that everything hangs on.
REWRITES = """
import sqlalchemy as sa
from alembic import op

revision, down_revision, branch_labels, depends_on = "9001", "NEWEST", None, None


def upgrade():
    with op.batch_alter_table("entry", recreate="always") as table:
        table.add_column(sa.Column("added", sa.String(), nullable=True))
    {then}
"""


def thaw(schema: str, folder: Path) -> Path:
    """A shop's folder from a frozen dump."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / "shop.sqlite", isolation_level=None)) as database:
        database.executescript((FROZEN / f"{schema}.sql").read_text("utf-8"))
    return folder


def migration(folder: Path, then: str = "pass") -> tuple[Path, Path]:
    folder.mkdir()
    (folder / "9001_rewrites.py").write_text(REWRITES.format(then=then).replace("NEWEST", SCHEMA))
    return VERSIONS, folder


def test_the_newest_migration_is_the_schema_and_has_its_frozen_dump() -> None:
    newest = max(p.name[:4] for p in VERSIONS.glob("[0-9]*.py"))
    assert newest == SCHEMA
    assert {p.stem for p in FROZEN.glob("*.sql")} == {
        p.name[:4] for p in VERSIONS.glob("[0-9]*.py")
    }


def told_of(found: object) -> list[str]:
    """What an inspector says, as sorted texts; clauses of an index as SQL."""
    rows = found if isinstance(found, list) else [found]
    told = []
    for each in rows:
        row = dict(each)
        options = {k: str(v) for k, v in row.pop("dialect_options", {}).items()}
        told.append(str(row | {"options": options}))
    return sorted(told)


def test_migrations_make_the_tables_of_today_with_every_constraint_named(tmp_path: Path) -> None:
    upgrade(tmp_path / "shop.sqlite", new=True)
    migrated = create_engine(f"sqlite:///{tmp_path / 'shop.sqlite'}")
    direct = create_engine(f"sqlite:///{tmp_path / 'direct.sqlite'}")
    metadata.create_all(direct)
    with migrated.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
    one, other = inspect(migrated), inspect(direct)
    for table in metadata.tables:
        for what in ("check_constraints", "foreign_keys", "pk_constraint", "indexes"):
            found, told = (told_of(getattr(each, f"get_{what}")(table)) for each in (one, other))
            assert found == told, (table, what)
            assert all("'name': None" not in row for row in found), (table, what)
    migrated.dispose()
    direct.dispose()


@pytest.mark.parametrize("schema", sorted(p.stem for p in FROZEN.glob("*.sql")))
def test_a_frozen_shop_opens_with_all_its_rows_and_its_head(schema: str, tmp_path: Path) -> None:
    told = json.loads((FROZEN / f"{schema}.json").read_text("utf-8"))
    folder = thaw(schema, tmp_path / "old")
    with open_shop(folder) as store:
        there = counts(folder / "shop.sqlite")
        assert {name: there[name] for name in told["rows"]} == told["rows"]
        # Tables that came later are there, and empty.
        assert not any(rows for name, rows in there.items() if name not in told["rows"])
        found = store.verify(told["head"])
        assert found.head == told["head"] == store.head()
        # The dump is of the database alone: its one photo lies in no file here.
        (problem,) = found.problems
        assert problem.startswith("The photo ") and problem.endswith(" is missing.")
        book = store.book(JOB)
        assert {e.id: e.note for e in book.entries} == told["notes"]
        assert [g.shape for g in book.geometries.values()] == ["plate"]
        assert store.undo("person-ben").rows[0].words == "undo: wrong"
        assert store.find(type(book.entries[0]), "kind-0") is not None


def test_a_rewritten_table_keeps_its_rows_its_children_and_the_chain(tmp_path: Path) -> None:
    folder = thaw("0001", tmp_path / "old")
    before = counts(folder / "shop.sqlite")
    upgrade(folder / "shop.sqlite", versions=migration(tmp_path / "versions"))
    there = counts(folder / "shop.sqlite")
    assert {name: there[name] for name in before} == before
    with closing(sqlite3.connect(folder / "shop.sqlite")) as database:
        (made,) = database.execute("SELECT sql FROM sqlite_master WHERE name = 'entry'").fetchone()
        assert "added" in made
        assert all(name in made for name in ("fk_entry_part_id", "ck_entry_version", "pk_entry"))
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
        assert database.execute("SELECT version_num FROM alembic_version").fetchone() == ("9001",)


@pytest.mark.parametrize(
    ("then", "told"),
    [
        ('op.execute("DELETE FROM entry_photo")', "entry_photo: 1 rows before, 0 after"),
        ('op.execute("DELETE FROM part")', "refers to part, which is gone"),
        ('op.drop_table("entry_reference")', "entry_reference: 1 rows before, 0 after"),
        ("op.execute(\"UPDATE history SET hash = printf('%064d', seq)\")", "newest hash"),
    ],
)
def test_a_migration_that_loses_something_is_taken_back_whole(
    tmp_path: Path, then: str, told: str
) -> None:
    folder = thaw("0001", tmp_path / "old")
    with pytest.raises(StoreError, match=told):
        upgrade(folder / "shop.sqlite", versions=migration(tmp_path / "versions", then))
    with open_shop(folder) as store:
        expected = json.loads((FROZEN / "0001.json").read_text("utf-8"))
        assert store.head() == expected["head"]
        there = counts(folder / "shop.sqlite")
        assert {name: there[name] for name in expected["rows"]} == expected["rows"]


def test_a_migration_that_stops_in_the_middle_is_taken_back_whole(tmp_path: Path) -> None:
    folder = thaw("0001", tmp_path / "old")
    with pytest.raises(ZeroDivisionError):
        upgrade(folder / "shop.sqlite", versions=migration(tmp_path / "versions", "1 / 0"))
    with open_shop(folder) as store:
        assert len(store.book(JOB).entries) == 12


def test_the_rewrite_would_lose_children_were_foreign_keys_on(tmp_path: Path) -> None:
    # Why `upgrade` turns them off before BEGIN: with them on, the table cannot be rewritten.
    folder = thaw("0001", tmp_path / "old")
    usual = migrate.open_engine
    migrate.open_engine = lambda database, new, foreign_keys: usual(database, new=new)  # type: ignore[assignment]
    try:
        with pytest.raises(StoreError):
            upgrade(folder / "shop.sqlite", versions=migration(tmp_path / "versions"))
    finally:
        migrate.open_engine = usual


# -- what is opened


def test_an_older_shop_is_carried_over_when_it_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    versions = migration(tmp_path / "versions")
    folder = thaw("0001", tmp_path / "old")
    monkeypatch.setattr(migrate, "SCHEMA", "9001")
    monkeypatch.setattr(shop, "upgrade", lambda database: upgrade(database, versions=versions))
    with open_shop(folder) as store:
        assert len(store.book(JOB).entries) == 12
    with open_shop(folder) as store:
        assert store.head()


def bytes_of(folder: Path) -> bytes:
    return (folder / "shop.sqlite").read_bytes()


@pytest.fixture
def closed(store: Store) -> Path:
    with store.act(ANN, "add") as action:
        for number in range(50):
            action.add(entry(f"e{number}", note="x" * 2000))
    store.close()
    return store.folder


def test_a_newer_shop_is_refused_in_words_and_not_touched(closed: Path) -> None:
    with closing(sqlite3.connect(closed / "shop.sqlite")) as database:
        database.execute("UPDATE alembic_version SET version_num = '9999'")
        database.commit()
    before = bytes_of(closed)
    with pytest.raises(ShopTooNew, match=r"schema 9999.*up to " + SCHEMA):
        open_shop(closed)
    assert bytes_of(closed) == before


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "empty"),
        (b"not a database at all" * 40, "another kind of file"),
        (b"SQLite format 3\x00", "cut short"),
    ],
)
def test_a_foreign_file_is_refused_in_words(closed: Path, content: bytes, told: str) -> None:
    (closed / "shop.sqlite").write_bytes(content)
    with pytest.raises(ShopDamaged, match=told):
        open_shop(closed)
    assert bytes_of(closed) == content


@pytest.mark.parametrize("part", [0.02, 0.5, 0.99])
def test_a_file_cut_short_is_refused_in_words(closed: Path, part: float) -> None:
    whole = bytes_of(closed)
    (closed / "shop.sqlite").write_bytes(whole[: int(len(whole) * part)])
    with pytest.raises(ShopDamaged, match="cut short"):
        open_shop(closed)


def test_another_programs_database_is_refused(closed: Path) -> None:
    (closed / "shop.sqlite").unlink()
    with closing(sqlite3.connect(closed / "shop.sqlite")) as database:
        database.execute("CREATE TABLE shop (id)")
        database.commit()
    with pytest.raises(ShopDamaged, match="another program"):
        open_shop(closed)
    with pytest.raises(NoSuchRecord, match="no shop"):
        open_shop(closed / "photos")


def test_a_shop_killed_right_after_it_was_made_opens(tmp_path: Path) -> None:
    store = new_shop(tmp_path / "shop")
    copy = tmp_path / "as the kill left it"
    copy.mkdir()
    for path in store.folder.glob("shop.sqlite*"):
        (copy / path.name).write_bytes(path.read_bytes())
    store.close()
    with open_shop(copy) as again:
        assert again.verify().sound
        assert len(again.jobs()) == 1
