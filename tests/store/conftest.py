"""An open shop for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from mapper.job.records import Person, Shop
from mapper.store.shop import Store, create
from tests.store.freeze import fill
from tests.store.makers import OTHER, Clock, new_shop


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with new_shop(tmp_path / "shop") as opened:
        yield opened


@pytest.fixture
def full(store: Store) -> Store:
    """A shop with at least one row in every table."""
    fill(store)
    return store


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Store]:
    """A second shop, of other people, with nothing in it."""
    person = Person(OTHER, "Cy")
    with create(tmp_path / "other", Shop("shop-2", "Other shop"), person, now=Clock()) as opened:
        yield opened
