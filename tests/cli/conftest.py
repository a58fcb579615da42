"""A shop to run commands in, made once and copied for each test."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.cli.typed import PART, typed


@pytest.fixture(scope="session")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with a job, an assembly, a wing of two panels and a part without a shape."""
    root = tmp_path_factory.mktemp("record")
    (root / "wing.toml").write_text(PART)
    shop = root / "shop"
    for line in (
        f"new shop {shop} 'Hangar two' --person Mira --role restorer",
        f"new job 'Two-seater' --airframe X-2 --opened 2026-01-10 --shop {shop}",
        f"add assembly 'right wing' --shop {shop}",
        f"add part {root / 'wing.toml'} --code RW-01 --name 'outer wing' --shop {shop}",
        f"add part --name 'pitot tube' --code PT-1 --shop {shop}",
    ):
        done = typed(line)
        assert done.code == 0, done
    return root


@pytest.fixture
def shop(ready: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A copy of that shop, named by the variable that the commands read."""
    copy = tmp_path / "shop"
    shutil.copytree(ready / "shop", copy)
    monkeypatch.setenv("MAPPER_SHOP", str(copy))
    for name in ("MAPPER_JOB", "MAPPER_PERSON"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "80")
    yield copy
