"""A library that few shapes need, loaded by the first that does.

SciPy's interpolation takes half a second to load, and only sections and outlines given by points
ask for it. (The rest of the program has one of its own: shapes stand on nothing.)
"""

from __future__ import annotations

from importlib import import_module
from typing import Any


class Late:
    """Stands for a module by its full name; the first attribute asked for imports it.

    Raises ImportError at that moment where it is missing.
    """

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, attribute: str) -> Any:
        return getattr(import_module(self._name), attribute)
