"""Modules that take long to load and that few commands need: loaded when first used.

numba, pandas, igl and most of SciPy take .3 to .8 s of processor time each, several times what it
takes to work out a plate or a wing. Imports stand at the top of a file all the same: `Late` stands
there for the module, and type checkers are shown the true import:

    if TYPE_CHECKING:
        from scipy import spatial
    else:
        spatial = Late("scipy.spatial")
"""

from __future__ import annotations

from importlib import import_module
from typing import Any


class Late:
    """Stands for a module by its full name; the first attribute asked for imports it.

    Safe among threads, as an import is. Raises ImportError at that moment where it is missing.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        self._module: Any = None

    def __getattr__(self, attribute: str) -> Any:
        if self._module is None:
            self._module = import_module(self._name)
        return getattr(self._module, attribute)

    def __repr__(self) -> str:
        return f"Late({self._name!r})"
