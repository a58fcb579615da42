"""A pytest plugin under which the core's tests run as if the outer libraries were not installed.

`make test` runs the core's suites with `-p tests.house.core_alone`: importing one of these names,
by the core or by its tests, fails as it would on a machine without them.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec
from types import ModuleType

ABSENT = frozenset({"fastapi", "sqlalchemy", "alembic", "pyvista", "vtk", "vtkmodules", "typst"})


class Absent(MetaPathFinder):
    """Answers for the names in ABSENT that there is no such module."""

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if name.split(".")[0] in ABSENT:
            raise ModuleNotFoundError(f"{name} is kept away from the core's tests", name=name)
        return None


sys.meta_path.insert(0, Absent())
