"""What is dear to make and is only copied or looked at: made once in a run, for all its workers."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest


def common_folder(factory: pytest.TempPathFactory) -> Path:
    """A folder that every worker of this run has, and no other run."""
    base = factory.getbasetemp()
    return base.parent if "PYTEST_XDIST_WORKER" in os.environ else base


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """The folder that make(folder) fills, by whichever worker asks first; the others wait for it.

    It must not be changed by a test. Where making it failed, the next one who asks tries again.
    """
    base = common_folder(factory)
    folder, passing = base / f"once-{name}", base / f"being-made-{name}"
    with (base / f"lock-{name}").open("w") as lock:
        # Of the open file: a worker that is killed lets go of it.
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not folder.is_dir():
            shutil.rmtree(passing, ignore_errors=True)
            passing.mkdir()
            make(passing)
            passing.rename(folder)
    return folder
