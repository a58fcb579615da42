"""Bounds that a process sets itself before it looks at a file from outside."""

from __future__ import annotations

import importlib
from types import ModuleType


def _limits() -> ModuleType | None:
    try:
        return importlib.import_module("resource")
    except ImportError:
        # A system without these limits: the time limit of whoever started us still holds.
        return None


def bound(memory: int, seconds: int) -> None:
    """Bound this process: bytes of memory, seconds of processor time, no core file, no file
    written. Nothing happens on systems that have no such limits."""
    resource = _limits()
    if resource is None:
        return
    for what, most in (
        (resource.RLIMIT_AS, memory),
        (resource.RLIMIT_CPU, seconds),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_FSIZE, 0),
    ):
        hard = resource.getrlimit(what)[1]
        least = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (least, least))
