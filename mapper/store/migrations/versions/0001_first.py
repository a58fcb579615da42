"""The first schema: a table for each type of record, geometry versions, and the history."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def text(name: str, length: int | None = None, *, empty: bool = False) -> sa.Column:
    return sa.Column(name, sa.String(length=length), nullable=empty)


def key(table: str, *columns: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(*columns, name=f"pk_{table}")


def refers(table: str, column: str, to: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [to], name=f"fk_{table}_{column}")


def check(table: str, name: str, rule: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(rule, name=f"ck_{table}_{name}")


def index(table: str, *columns: str) -> None:
    op.create_index(f"ix_{table}_{'_'.join(columns)}", table, list(columns), unique=False)


def record_table(name: str, *columns: sa.Column | sa.Constraint) -> None:
    op.create_table(
        name,
        text("id"),
        sa.Column("version", sa.Integer(), nullable=False),
        *(c for c in columns if isinstance(c, sa.Column)),
        sa.Column("body", sa.Text(), nullable=False),
        key(name, "id"),
        check(name, "version", "version > 0"),
        *(c for c in columns if not isinstance(c, sa.Column)),
    )


def in_job(table: str) -> tuple[sa.Column, sa.Constraint]:
    return text("job_id"), refers(table, "job_id", "job.id")


def under(table: str, parent: str) -> tuple[sa.Column, sa.Constraint]:
    return text(f"{parent}_id"), refers(table, f"{parent}_id", f"{parent}.id")


def with_geometry(table: str) -> tuple[sa.Column, sa.Constraint]:
    return text("geometry", 64, empty=True), refers(table, "geometry", "geometry.digest")


def upgrade() -> None:
    op.create_table(
        "geometry",
        text("digest", 64),
        text("part"),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        key("geometry", "digest"),
        check("geometry", "digest", "length(digest) = 64"),
        check("geometry", "size", "length(data) = size"),
    )
    record_table("shop")
    record_table("person", text("name"))
    record_table("job", text("name"))
    record_table("assembly", *in_job("assembly"), text("name"))
    record_table(
        "part",
        *in_job("part"),
        *under("part", "assembly"),
        *with_geometry("part"),
        text("name"),
        text("code"),
    )
    op.create_index(
        "uq_part_code", "part", ["job_id", "code"], unique=True, sqlite_where=sa.text("code != ''")
    )
    record_table("position", *in_job("position"), *under("position", "part"))
    record_table("item", *in_job("item"), *under("item", "position"))
    record_table("lot", text("number"))
    record_table("finish_system", *in_job("finish_system"), text("name"))
    record_table(
        "photo",
        *in_job("photo"),
        text("digest", 64),
        check("photo", "digest", "length(digest) = 64"),
    )
    record_table(
        "entry",
        *in_job("entry"),
        *under("entry", "part"),
        *with_geometry("entry"),
        text("by_person", empty=True),
        refers("entry", "by_person", "person.id"),
        text("kind"),
    )
    of_an_entry("entry_piece", *under("entry_piece", "item"), text("skin"), text("face"))
    of_an_entry("entry_photo", *under("entry_photo", "photo"))
    of_an_entry("entry_reference", text("kind"), text("record_id"))
    the_history()
    for table in ("assembly", "part", "position", "item", "finish_system", "photo", "entry"):
        index(table, "job_id")
    for table, column in (
        ("part", "assembly_id"),
        ("position", "part_id"),
        ("item", "position_id"),
        ("entry", "part_id"),
        ("entry_piece", "item_id"),
        ("entry_photo", "photo_id"),
        ("entry_reference", "record_id"),
        ("history", "action_id"),
        ("history", "record_id"),
    ):
        index(table, column)
    op.create_index("ix_history_by_person", "history", ["by_person", "seq"], unique=False)


def of_an_entry(name: str, *columns: sa.Column | sa.Constraint) -> None:
    op.create_table(
        name,
        text("entry_id"),
        sa.Column("number", sa.Integer(), nullable=False),
        *columns,
        refers(name, "entry_id", "entry.id"),
        key(name, "entry_id", "number"),
    )


def the_history() -> None:
    op.create_table(
        "history",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        text("action_id"),
        text("mode"),
        text("of_action", empty=True),
        text("content", 64),
        text("job_id", empty=True),
        text("by_person"),
        text("device_time", 40),
        text("server_time", 32),
        sa.Column("words", sa.Text(), nullable=False),
        text("op"),
        text("kind"),
        text("record_id"),
        sa.Column("before", sa.Text(), nullable=True),
        sa.Column("after", sa.Text(), nullable=True),
        text("previous", 64),
        text("hash", 64),
        key("history", "seq"),
        refers("history", "by_person", "person.id"),
        check("history", "mode", "mode in ('create', 'act', 'undo', 'redo')"),
        check(
            "history",
            "op",
            "(op = 'add' and before is null and after is not null)"
            " or (op = 'change' and before is not null and after is not null)"
            " or (op = 'remove' and before is not null and after is null)",
        ),
        check("history", "of_action", "(of_action is null) = (mode in ('create', 'act'))"),
        check("history", "hash", "length(previous) = 64 and length(hash) = 64"),
    )
