"""`mapper --help` against `python -c pass`, as typed, in the same run."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

GOAL = 20.0
ROUNDS = 7


def _seconds(command: list[str]) -> float:
    """The quickest of some runs: what is left when nothing else is going on."""
    best = float("inf")
    for _ in range(ROUNDS):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        best = min(best, time.perf_counter() - start)
    return best


@pytest.mark.bench
def test_help_is_quick() -> None:
    mapper = shutil.which("mapper", path=str(Path(sys.executable).parent)) or "mapper"
    pass_, help_ = _seconds([sys.executable, "-c", "pass"]), _seconds([mapper, "--help"])
    ratio = help_ / pass_
    print(
        f"\nmapper --help {help_ * 1e3:.0f} ms, python -c pass {pass_ * 1e3:.0f} ms: "
        f"{ratio:.1f} times (goal {GOAL:g})"
    )
    assert ratio <= GOAL
