"""The one way to the database: every connection keeps its promises, or is not used.

WAL and `synchronous=FULL` make an acknowledged commit survive a power cut; foreign keys are off in
SQLite unless each connection asks for them. All three are set when a connection is made and read
back whenever the pool hands it out. Transactions are ours, not the driver's: a writer begins
IMMEDIATE, or two writers that both read first would overwrite each other without an error.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.pool import NullPool, QueuePool

from mapper.store.errors import DiskRefused, ShopDamaged, StoreError
from mapper.store.tables import APPLICATION

WAIT_SECONDS = 30.0
SYNCHRONOUS = "FULL"
_LEVELS = {"OFF": 0, "NORMAL": 1, "FULL": 2, "EXTRA": 3}
_MAGIC = b"SQLite format 3\x00"


def connect(database: Path, *, new: bool = False) -> sqlite3.Connection:
    """A bare driver connection in autocommit mode; the file must exist unless `new`."""
    mode = "rwc" if new else "rw"
    return sqlite3.connect(
        f"file:{quote(str(database))}?mode={mode}",
        uri=True,
        timeout=WAIT_SECONDS,
        isolation_level=None,
        check_same_thread=False,
    )


def open_engine(database: Path, *, new: bool = False, foreign_keys: bool = True) -> Engine:
    """An engine on a shop's database file whose connections all keep the promises above.

    foreign_keys False is for migrations alone: rewriting a table would otherwise empty its
    children; such an engine keeps no pool, so that no connection of it is ever used again.
    Raises StoreError when the file system does not carry WAL (a network drive, mostly).
    """
    engine = create_engine(
        "sqlite+pysqlite://",
        creator=lambda: connect(database, new=new),
        **({"poolclass": QueuePool} if foreign_keys else {"poolclass": NullPool}),
    )

    @event.listens_for(engine, "connect")
    def promise(driver: Any, record: Any) -> None:
        cursor = driver.cursor()
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute(f"PRAGMA synchronous={SYNCHRONOUS}")
        cursor.execute(f"PRAGMA foreign_keys={'ON' if foreign_keys else 'OFF'}")
        (journal,) = cursor.execute("PRAGMA journal_mode").fetchone()
        cursor.close()
        if journal != "wal":
            raise StoreError(
                f"The file system with {database} does not carry a write-ahead log ({journal}).",
                "A shop must lie on a disk of this machine, not on a network drive.",
                "Move the shop's folder to a local disk.",
            )
        record.info["file"] = _which(database)

    @event.listens_for(engine, "checkout")
    def check(driver: Any, record: Any, proxy: Any) -> None:
        check_promises(driver, foreign_keys=foreign_keys)
        # SQLite goes on writing into a file that was moved or deleted, and says that it did.
        if record.info.get("file") != _which(database):
            raise DiskRefused(
                f"{database} was moved, removed or replaced while it was in use.",
                "What is stored now would not be in it. Nothing of this action was stored.",
                "Put it back, or close this program and open the shop where it is now.",
            )

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        reading = connection.get_execution_options().get("reading", False)
        connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")

    return engine


def _which(database: Path) -> tuple[int, int] | None:
    """Disk and number of the file that lies at a path now, None for none."""
    try:
        found = database.stat()
    except FileNotFoundError:
        return None
    return found.st_dev, found.st_ino


def checkpoint(engine: Engine) -> None:
    """Bring what the write-ahead log holds into the database file, outside any transaction."""
    driver = engine.raw_connection()
    try:
        driver.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        driver.close()


def check_promises(driver: Any, *, foreign_keys: bool = True) -> None:
    """Raise StoreError unless the connection would sync every commit and hold foreign keys."""
    (synchronous,) = driver.execute("PRAGMA synchronous").fetchone()
    (keys,) = driver.execute("PRAGMA foreign_keys").fetchone()
    if synchronous < _LEVELS["FULL"] or bool(keys) != foreign_keys:
        raise StoreError(
            f"A connection to the shop lost its safety settings (synchronous={synchronous}, "
            f"foreign_keys={keys}).",
            "It must be synchronous=FULL with foreign keys on.",
            "Close this program and open the shop again.",
        )


def is_a_shop(database: Path) -> None:
    """Raise ShopDamaged unless the file starts as the database of a shop does.

    Only the first 100 bytes are read: the marks of SQLite and of a shop, and the page size.
    """
    with database.open("rb") as file:
        head = file.read(100)
    advice = "Keep it as it is, and restore the newest backup into another folder."
    if len(head) < 100 or not head.startswith(_MAGIC):
        raise ShopDamaged(
            f"{database} is not the database of a shop: it is "
            + ("empty." if not head else "cut short, or another kind of file."),
            "",
            advice,
        )
    if int.from_bytes(head[68:72]) != APPLICATION:
        raise ShopDamaged(
            f"{database} is a database, but of another program.", "", "Choose a shop's folder."
        )
