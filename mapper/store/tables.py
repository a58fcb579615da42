"""The tables of `shop.sqlite`: one for each type of record, their look-ups, and the history.

A record is kept whole in `body` (canonical JSON); the other columns of its table only repeat what
is looked up or referred to, and `verify` compares the two. Every constraint has a name, because a
migration that rewrites a table finds constraints by name.
"""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
)

from mapper.store.types import OffsetTime, UtcTime

SCHEMA = "0003"  # the newest migration; tests hold it equal to the newest file in migrations/
APPLICATION = int.from_bytes(b"AfMp")  # marks a SQLite file as the database of a shop

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


def _record_table(name: str, *columns: Column | Index) -> Table:
    return Table(
        name,
        metadata,
        Column("id", String, primary_key=True),
        Column("version", Integer, nullable=False),
        *columns,
        Column("body", Text, nullable=False),
        CheckConstraint("version > 0", name="version"),
    )


def _to(table: str, name: str | None = None, *, empty: bool = False, index: bool = True) -> Column:
    key = "digest" if table == "geometry" else "id"
    return Column(name or f"{table}_id", ForeignKey(f"{table}.{key}"), nullable=empty, index=index)


geometry = Table(
    "geometry",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("part", String, nullable=False),
    Column("size", Integer, nullable=False),
    Column("data", LargeBinary, nullable=False),
    CheckConstraint("length(digest) = 64", name="digest"),
    CheckConstraint("length(data) = size", name="size"),
)

# The history of a job that came from an archive, as it came: lines of JSON. It is told of, never
# rewritten, so it refers to nothing here; a job may have come through several shops.
earlier_history = Table(
    "earlier_history",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("job_id", String, nullable=False, index=True),
    Column("size", Integer, nullable=False),
    Column("data", LargeBinary, nullable=False),
    CheckConstraint("length(digest) = 64", name="digest"),
    CheckConstraint("length(data) = size", name="size"),
)

shop = _record_table("shop")
person = _record_table("person", Column("name", String, nullable=False))
job = _record_table("job", Column("name", String, nullable=False))
assembly = _record_table("assembly", _to("job"), Column("name", String, nullable=False))
part = _record_table(
    "part",
    _to("job"),
    _to("assembly"),
    _to("geometry", "geometry", empty=True, index=False),
    Column("name", String, nullable=False),
    Column("code", String, nullable=False),
)
# A tag code is written on a bag, so two parts of a job never share one; a part may have none.
Index("uq_part_code", part.c.job_id, part.c.code, unique=True, sqlite_where=part.c.code != "")
position = _record_table("position", _to("job"), _to("part"))
item = _record_table("item", _to("job"), _to("position"))
lot = _record_table("lot", Column("number", String, nullable=False))
finish_system = _record_table("finish_system", _to("job"), Column("name", String, nullable=False))
photo = _record_table(
    "photo",
    _to("job"),
    Column("digest", String(64), nullable=False),
    CheckConstraint("length(digest) = 64", name="digest"),
)
entry = _record_table(
    "entry",
    _to("job"),
    _to("part"),
    _to("geometry", "geometry", empty=True, index=False),
    _to("person", "by_person", empty=True, index=False),
    Column("kind", String, nullable=False),
)
entry_piece = Table(
    "entry_piece",
    metadata,
    Column("entry_id", ForeignKey("entry.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    _to("item"),
    Column("skin", String, nullable=False),
    Column("face", String, nullable=False),
)
entry_photo = Table(
    "entry_photo",
    metadata,
    Column("entry_id", ForeignKey("entry.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    _to("photo"),
)
# What an entry's values refer to (a lot, a person, an earlier finding): of several tables, so the
# store looks for itself, where a foreign key cannot.
entry_reference = Table(
    "entry_reference",
    metadata,
    Column("entry_id", ForeignKey("entry.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("kind", String, nullable=False),
    Column("record_id", String, nullable=False, index=True),
)

history = Table(
    "history",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("action_id", String, nullable=False, index=True),
    Column("mode", String, nullable=False),
    Column("of_action", String),
    Column("content", String(64), nullable=False),
    Column("job_id", String),
    Column("by_person", ForeignKey("person.id"), nullable=False),
    Column("device_time", OffsetTime, nullable=False),
    Column("server_time", UtcTime, nullable=False),
    Column("words", Text, nullable=False),
    Column("op", String, nullable=False),
    Column("kind", String, nullable=False),
    Column("record_id", String, nullable=False, index=True),
    Column("before", Text),
    Column("after", Text),
    Column("previous", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
    # Device clock minus server clock when the action was made; none where nobody compared them.
    Column("clock_offset_ms", Integer, index=True),
    CheckConstraint("mode in ('create', 'act', 'undo', 'redo')", name="mode"),
    CheckConstraint(
        "(op = 'add' and before is null and after is not null)"
        " or (op = 'change' and before is not null and after is not null)"
        " or (op = 'remove' and before is not null and after is null)",
        name="op",
    ),
    CheckConstraint("(of_action is null) = (mode in ('create', 'act'))", name="of_action"),
    CheckConstraint("length(previous) = 64 and length(hash) = 64", name="hash"),
    Index("ix_history_by_person", "by_person", "seq"),
)
