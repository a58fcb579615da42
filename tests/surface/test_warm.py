"""The kernels that the set-up compiles are all there are."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

from mapper.surface.warm import warm

ROOT = Path(__file__).resolve().parents[2] / "mapper"


def test_warming_up_calls_every_kernel_that_another_function_calls() -> None:
    drawn = warm()
    # A rectangle of 60 x 40 mm on the map, and half a disc of 25 mm or more.
    assert 2400 * 0.9 < drawn < 2400 * 1.1 + 2000
    missed = []
    for path in ROOT.rglob("*.py"):
        # Those with an underscore are called by kernels only, and compiled with them.
        kernels = re.findall(r"njit\(cache=True, nogil=True\)\ndef ([a-z]\w+)", path.read_text())
        name = ".".join(("mapper", *path.relative_to(ROOT).with_suffix("").parts))
        module = importlib.import_module(name) if kernels else None
        missed += [f"{name}.{k}" for k in kernels if not getattr(module, k).signatures]
    # These are called by other kernels alone, and compiled with them.
    inner = ("mapper.surface.walk.find", "mapper.surface.looking.", "mapper.surface.waiting.")
    assert [m for m in missed if not m.startswith(inner)] == []
