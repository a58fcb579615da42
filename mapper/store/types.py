"""Column types that keep what SQLite drops: the time zone."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import String
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

from mapper.store.errors import StoreError


def utc_text(moment: datetime) -> str:
    """A moment as stored: UTC, always to the microsecond, so that text order is time order."""
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise StoreError(
            f"The time {moment.isoformat()} has no time zone.", "Times must carry their offset."
        )
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def offset_text(moment: datetime) -> str:
    """A moment as a device told it: its own clock and its offset from UTC, to the microsecond."""
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise StoreError(
            f"The time {moment.isoformat()} has no time zone.", "Times must carry their offset."
        )
    return moment.isoformat(timespec="microseconds")


class UtcTime(TypeDecorator[datetime]):
    """An aware datetime kept as UTC text and given back in UTC; one without a zone is refused."""

    impl = String(32)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        return None if value is None else utc_text(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        return None if value is None else datetime.fromisoformat(value).astimezone(UTC)


class OffsetTime(TypeDecorator[datetime]):
    """An aware datetime kept with the offset it was told in (device time)."""

    impl = String(40)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        return None if value is None else offset_text(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        return None if value is None else datetime.fromisoformat(value)
