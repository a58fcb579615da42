"""A shop to run commands in, made once and copied for each test; shapes that are built once."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from mapper.job.partfile import build as builder
from mapper.job.partfile.meshkeys import MESHES
from mapper.job.partfile.spec import PartSpec
from mapper.surface.geometry import Geometry
from tests.cli.typed import PART, typed
from tests.shared import made_once


@pytest.fixture(autouse=True)
def built_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A part file that one test gives to several commands is built for the first of them: what
    comes of it is the same to the last bit, and nobody can change it."""
    build, kept = builder.build, dict[str, Geometry]()

    def remembered(spec: PartSpec) -> Geometry:
        if spec.shape in MESHES:
            return build(spec)
        said = repr(spec)
        if said not in kept:
            kept[said] = build(spec)
        return kept[said]

    monkeypatch.setattr(builder, "build", remembered)


@pytest.fixture(scope="session")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with a job, an assembly, a wing of two panels and a part without a shape."""
    return made_once(tmp_path_factory, "cli-shop", _make_ready)


def _make_ready(root: Path) -> None:
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
