"""Carry a shop's database from the schema it was written with to the one this program uses.

SQLite can empty a database in a migration and report success: rewriting a table ("batch mode")
drops the old one, and with foreign keys on that deletes or refuses its children. So foreign keys
are off before BEGIN (inside a transaction the pragma is ignored), everything happens in one
transaction, and before COMMIT the foreign keys, the number of rows of every table and the newest
hash of the history are checked. Whatever is wrong rolls all of it back.

To change the schema: change `tables.py` and `SCHEMA`, write `migrations/versions/NNNN_words.py` by
hand (with `op.batch_alter_table` for what SQLite cannot alter), and freeze a dump of the new schema
for the tests (`python -m tests.store.freeze`).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, inspect, text

from mapper.late import Late
from mapper.store.engine import open_engine
from mapper.store.errors import ShopDamaged, ShopTooNew, StoreError, plain_words
from mapper.store.tables import APPLICATION, SCHEMA

# A quarter of a second to load, and a shop of today needs no migration.
if TYPE_CHECKING:
    from alembic import command, config, script, util
else:
    command, config = Late("alembic.command"), Late("alembic.config")
    script, util = Late("alembic.script"), Late("alembic.util")

VERSIONS = Path(__file__).parent / "migrations" / "versions"


def schema_of(connection: Connection) -> str:
    """The number of the newest migration the database has been through; "" for none."""
    if not connection.dialect.has_table(connection, "alembic_version"):
        return ""
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalars().all()
    return found[0] if len(found) == 1 else ""


def needs_upgrade(connection: Connection, database: Path) -> bool:
    """Whether the database is older than this program.

    Raises ShopTooNew when it is newer, ShopDamaged when it has no schema at all.
    """
    found = schema_of(connection)
    if found == SCHEMA:
        return False
    if not found:
        raise ShopDamaged(f"{database} holds no shop: its tables are missing.")
    if not found.isdigit() or int(found) > int(SCHEMA):
        raise ShopTooNew(
            f"{database} was written by a newer program (schema {found}).",
            f"This one knows schemas up to {SCHEMA}.",
            "Install the newer program; this shop was not touched.",
        )
    return True


def upgrade(
    database: Path, *, new: bool = False, versions: Sequence[Path] = (VERSIONS,), to: str = "head"
) -> None:
    """Bring the database to the newest schema in one transaction; all or nothing.

    new: make the file. versions: folders with migrations (tests add their own). Raises StoreError,
    with everything rolled back, when rows, references or the history's head did not come through.
    """
    settings = config.Config()
    settings.set_main_option("script_location", str(VERSIONS.parent).replace("%", "%%"))
    settings.set_main_option("path_separator", "newline")
    settings.set_main_option(
        "version_locations", "\n".join(str(folder).replace("%", "%%") for folder in versions)
    )
    engine = open_engine(database, new=new, foreign_keys=False)
    try:
        with plain_words(database), engine.connect() as connection:
            begun = connection.begin()
            if new:
                connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION}")
            before = _count(connection)
            head = _head(connection)
            settings.attributes["connection"] = connection
            try:
                script.ScriptDirectory.from_config(settings)
                command.upgrade(settings, to)
            except util.CommandError as error:
                raise StoreError(f"{database} cannot be carried over ({error}).") from error
            _check(connection, before, head)
            begun.commit()
    finally:
        engine.dispose()


def _count(connection: Connection) -> dict[str, int]:
    quote = connection.dialect.identifier_preparer.quote
    return {
        name: connection.execute(text(f"SELECT count(*) FROM {quote(name)}")).scalar_one()
        for name in inspect(connection).get_table_names()
        if name != "alembic_version"
    }


def _head(connection: Connection) -> str:
    if not connection.dialect.has_table(connection, "history"):
        return ""
    newest = text("SELECT hash FROM history ORDER BY seq DESC LIMIT 1")
    return connection.execute(newest).scalar() or ""


def _check(connection: Connection, before: dict[str, int], head: str) -> None:
    dangling = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    after = _count(connection)
    wrong = [
        f"{name}: {rows} rows before, {after.get(name, 0)} after"
        for name, rows in before.items()
        if rows != after.get(name, 0)
    ]
    wrong += [f"{row[0]}: a row refers to {row[2]}, which is gone" for row in dangling[:5]]
    if _head(connection) != head:
        wrong.append("the newest hash of the history is another")
    if wrong:
        raise StoreError(
            f"Carrying the shop to a newer schema went wrong ({'; '.join(wrong)}).",
            "All of it was taken back, and the shop is as it was.",
            "Use the program that wrote it, and report this.",
        )
