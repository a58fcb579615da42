"""Imports of the page run down its own ladder: lib, then device and views, then ui, then main."""

from __future__ import annotations

import re
from pathlib import Path, PurePosixPath

import pytest

SRC = Path(__file__).resolve().parents[2] / "mapper" / "viewer" / "page" / "src"
MAY = {
    "wire": set(),
    "state": {"wire"},
    "lib": {"wire", "lib"},
    "device": {"wire", "state", "lib", "device"},
    "views": {"wire", "lib", "views"},
    "ui": {"wire", "state", "lib", "views", "ui", "device/device"},
    "main": {"wire", "state", "lib", "device", "views", "ui"},
}
FILES = sorted(SRC.rglob("*.ts"))
OUTSIDE: set[str] = set()  # no package but our own: three is a measure in the benches


def named(text: str) -> list[str]:
    """What a module imports or passes on, as written."""
    found = (
        r"""^(?:import|export)\s(?:[\w*{},\s]*?\sfrom\s*)?["']([^"'\n]+)["'];"""
        r"""|\bimport\(["']([^"'\n]+)["']\)"""
    )
    return [one or other for one, other in re.findall(found, text, flags=re.M)]


def room_of(path: str) -> str:
    first = PurePosixPath(path).parts[0]
    return first.removesuffix(".ts")


@pytest.mark.parametrize("path", FILES, ids=[p.relative_to(SRC).as_posix() for p in FILES])
def test_the_page_imports_only_downwards(path: Path) -> None:
    own = room_of(path.relative_to(SRC).as_posix())
    for name in named(path.read_text("utf-8")):
        if not name.startswith("."):
            assert name.split("/")[0] in OUTSIDE, f"{name} is no package of the page"
            continue
        target = (path.parent / name).resolve().relative_to(SRC).as_posix()
        room = room_of(target)
        exact = target.removesuffix(".ts")
        assert room in MAY[own] or exact in MAY[own], f"{own} must not import {target}"


def test_it_sees_a_wrong_import() -> None:
    text = 'import { a } from "../ui/shell.ts";\nexport * from "three";\nimport "./y.ts";\n'
    text += 'export interface X {\n  format: "from 1";\n}\nawait import("./x.ts")'
    assert named(text) == ["../ui/shell.ts", "three", "./y.ts", "./x.ts"]
