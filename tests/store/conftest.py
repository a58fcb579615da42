"""An open shop for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from mapper.store.shop import Store
from tests.store.makers import new_shop


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with new_shop(tmp_path / "shop") as opened:
        yield opened
