"""What the store refuses, in words: every error of SQLite or the disk becomes one of these."""

from __future__ import annotations

import errno
import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from mapper.errors import MapperError


class StoreError(MapperError):
    """Something the store refuses or could not do; nothing was changed."""


class NoSuchRecord(StoreError):
    """An id, or a thing referred to, that the shop does not have."""


class Refused(StoreError):
    """Two versions that cannot both stand: `mine` was given, `stored` is what the shop holds.

    Both are records, or tuples of history rows where whole actions collide.
    """

    def __init__(
        self,
        given: str,
        allowed: str = "",
        to_do: str = "",
        *,
        mine: Any = None,
        stored: Any = None,
    ) -> None:
        self.mine = mine
        self.stored = stored
        super().__init__(given, allowed, to_do)


class StaleRecord(Refused):
    """A record was changed by somebody after it was read."""


class RepeatedAction(Refused):
    """An action id that was used before, for something else."""


class UndoRefused(Refused):
    """An undo or redo that would take back somebody else's work."""


class ShopDamaged(StoreError):
    """A file of the shop that is cut short, foreign or damaged."""


class ShopTooNew(StoreError):
    """A shop written by a newer program than this one."""


class ShopBusy(StoreError):
    """Another program kept the shop locked for longer than the waiting time."""


class DiskRefused(StoreError):
    """The disk took no more: full, over quota, read-only, or a limit on file size."""


class PhotoRefused(StoreError):
    """A file that is no picture the shop takes."""


class BackupRefused(StoreError):
    """A backup that cannot be made or used."""


class ArchiveRefused(StoreError):
    """An archive that cannot be written or taken in."""


RUN_VERIFY = "Run `mapper verify`, and restore the newest backup into another folder."
NOTHING_LOST = "Nothing of this action was stored; everything acknowledged before is safe."
_NO_SUCH = re.compile("no such (table|column|index)")
_DISK = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO}


def in_plain_words(error: BaseException, where: Path) -> StoreError:
    """The refusal that stands for an error of SQLite or of the operating system.

    error: a DBAPIError of SQLAlchemy, a sqlite3.Error or an OSError met while working on `where`.
    """
    if isinstance(error, PoolTimeout):
        return ShopBusy(f"{where} is being used by too many tasks at once.", "", "Try again.")
    if isinstance(error, DBAPIError):
        error = error.orig if error.orig is not None else error
    name = getattr(error, "sqlite_errorname", "") or ""
    if isinstance(error, OSError):
        return _of_the_system(error, where)
    if name.startswith("SQLITE_FULL"):
        return DiskRefused(
            f"The disk with {where} is full.", NOTHING_LOST, "Make room on the disk and try again."
        )
    if name.startswith("SQLITE_IOERR"):
        return DiskRefused(
            f"The disk with {where} refused to read or write ({error}).",
            NOTHING_LOST,
            "See whether it is full, over a quota, or failing, and try again.",
        )
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return ShopBusy(
            f"Another program is writing to {where} and did not finish in time.",
            NOTHING_LOST,
            "Try again when it has finished.",
        )
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")) or _NO_SUCH.match(str(error)):
        return ShopDamaged(
            f"{where} is cut short, damaged, or not the database of a shop ({error}).",
            "",
            "Keep it as it is, and restore the newest backup into another folder.",
        )
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")):
        folder = where.parent
        if folder.is_dir() and not (os.access(folder, os.W_OK) and os.access(where, os.W_OK)):
            return DiskRefused(
                f"The shop in {folder} is read-only for you: its folder or its database may not be"
                " written.",
                "A shop is opened where it can be written, also to read, check or back it up.",
                "Copy the whole folder to a disk of this machine, make the copy writable (chmod -R"
                " u+w), and open that; or ask the owner of the folder for the right to write.",
            )
        return DiskRefused(
            f"{where} cannot be opened for writing ({error}).",
            "The folder and its files must be writable for you, and its disk must have room.",
        )
    return StoreError(f"{where} could not be used ({error}).", NOTHING_LOST)


def _of_the_system(error: OSError, where: Path) -> StoreError:
    place = error.filename or where
    if error.errno in _DISK:
        return DiskRefused(
            f"The disk refused to write {place} ({error.strerror}).",
            NOTHING_LOST,
            "Make room on the disk (or lift its quota) and try again.",
        )
    if isinstance(error, FileNotFoundError):
        return NoSuchRecord(f"There is no {place}.")
    return DiskRefused(f"{place} cannot be used ({error.strerror or error}).", NOTHING_LOST)


@contextmanager
def plain_words(where: Path) -> Iterator[None]:
    """Turn every error of SQLite or of the disk met inside into a StoreError about `where`."""
    try:
        yield
    except (DBAPIError, PoolTimeout, sqlite3.Error, OSError) as error:
        raise in_plain_words(error, where) from error
