"""Statements written with SQLAlchemy Core, compiled once, and run on the driver itself.

Compiling and dispatching a statement costs SQLAlchemy more than SQLite takes to run it; an entry
needs ten. So what every action runs is turned to text when this program starts, and given to the
driver's connection inside the transaction that SQLAlchemy began. Values must be as the table keeps
them (times as text: `mapper.store.types`), and errors are the driver's own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Delete, Insert, Select, Table, Update, bindparam
from sqlalchemy.dialects import sqlite

_DIALECT = sqlite.dialect(paramstyle="named")


class Prepared:
    """One statement as text with `:name` for its values."""

    def __init__(self, statement: Select | Insert | Update | Delete, *columns: str) -> None:
        compiled = statement.compile(dialect=_DIALECT, column_keys=list(columns) or None)
        self.text = str(compiled)
        # Values that stand in the statement itself (the 1 of LIMIT 1).
        self._fixed = {k: v for k, v in compiled.params.items() if v is not None}

    def one(self, driver: Any, **values: Any) -> Any:
        """The first row as a tuple, or None."""
        return driver.execute(self.text, self._fixed | values).fetchone()

    def run(self, driver: Any, values: Mapping[str, Any]) -> None:
        """Run it once with those values."""
        driver.execute(self.text, values)

    def run_all(self, driver: Any, rows: Sequence[Mapping[str, Any]]) -> None:
        """Run it once for each row of values."""
        driver.executemany(self.text, rows)


def insert_into(table: Table) -> Prepared:
    """An INSERT of one row, every column by its name."""
    return Prepared(table.insert(), *table.c.keys())


def update_by_id(table: Table) -> Prepared:
    """An UPDATE of every column of the record `:key`."""
    return Prepared(table.update().where(table.c.id == bindparam("key")), *table.c.keys())


def driver_of(connection: Connection) -> Any:
    """The driver's connection on which the begun transaction runs."""
    return connection.connection.driver_connection
