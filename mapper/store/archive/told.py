"""The history of one job as an archive carries it: what came along earlier, then its own rows."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from sqlalchemy import String, select, type_coerce
from sqlalchemy.types import TypeDecorator

from mapper.store.canonical import canonical
from mapper.store.errors import ArchiveRefused, plain_words
from mapper.store.history import CLOCK, HEADER, row_hash
from mapper.store.shop import DATABASE, Store
from mapper.store.tables import earlier_history, history

Row = dict[str, Any]
COLUMNS = (*HEADER, "before", "after", "hash")
# As the table keeps them: a time written another way is another text, and another hash.
_RAW = select(
    *(
        type_coerce(history.c[n], String)
        if isinstance(history.c[n].type, TypeDecorator)
        else history.c[n]
        for n in (*COLUMNS, CLOCK)
    )
)


def rows_of(store: Store, job_id: str, head: str) -> list[Row]:
    """Every change of a job up to the newest hash `head` of its shop, oldest first.

    Rows that came with an archive stand before the shop's own, as they came. () in a shop whose
    history holds none of the job.
    """
    kept = select(earlier_history.c.data).where(earlier_history.c.job_id == job_id)
    own = _RAW.where(history.c.job_id == job_id).order_by(history.c.seq)
    # Somebody may have recorded more since the book was read: that is left for the next archive.
    last = select(history.c.seq).where(history.c.hash == head)
    with plain_words(store.folder / DATABASE), store.engine.connect() as connection:
        connection = connection.execution_options(reading=True)
        earlier = [bytes(data) for data in connection.scalars(kept)]
        end = connection.scalar(last) or 0
        rows = [_told(row) for row in connection.execute(own)]
    found = [row for data in earlier for row in rows_from(data)]
    return found + [row for row in rows if row["seq"] <= end]


def _told(row: Any) -> Row:
    """A row by column name, as archives have it: a clock that nobody compared is left out."""
    told = dict(zip((*COLUMNS, CLOCK), row))
    if told[CLOCK] is None:
        del told[CLOCK]
    return told


def to_lines(rows: Iterable[Row]) -> bytes:
    """Rows as lines of canonical JSON."""
    return "".join(f"{canonical(row)}\n" for row in rows).encode("utf-8")


def rows_from(data: bytes) -> list[Row]:
    """The rows in lines; ArchiveRefused, with the line, for one that is no row or whose hash is not
    that of its content."""
    rows = []
    for number, line in enumerate(data.splitlines(), 1):
        try:
            row = json.loads(line)
            right = set(row) - {CLOCK} == set(COLUMNS) and row_hash(row) == row["hash"]
        except (ValueError, TypeError, KeyError, RecursionError) as error:
            raise _damaged(number, str(error)) from error
        if not right:
            raise _damaged(number, "its hash is not that of its content")
        rows.append(row)
    return rows


def _damaged(number: int, why: str) -> ArchiveRefused:
    return ArchiveRefused(
        f"Line {number} of the history cannot be trusted: {why}.",
        "Each line is one change with the hash that belongs to it.",
        "Use another copy of the archive.",
    )
