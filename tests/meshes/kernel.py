"""The outside judge of lofts: the OpenCASCADE kernel in gmsh, which uses no triangles at all.

gmsh has no build for every machine: tests that need it say so and pass over, unless MAPPER_NO_SKIP
is set to 1, which makes its absence a failure.
"""

from __future__ import annotations

import importlib
import os
from itertools import pairwise
from types import ModuleType

import numpy as np
import pytest


def gmsh_or_word() -> ModuleType:
    """The gmsh module; where it is missing the test ends here with a clear word."""
    try:
        return importlib.import_module("gmsh")
    except (ImportError, OSError) as error:
        word = f"gmsh is not installed here ({error}): lofts are not judged by OpenCASCADE"
        if os.environ.get("MAPPER_NO_SKIP") == "1":
            pytest.fail(word)
        pytest.skip(word)


def loft_area(patches, strips: int = 64, points: int = 8) -> float:
    """Area in m2 of ruled patches as OpenCASCADE has it: one ruled strip per short interval of s.

    The kernel pairs points of equal spline parameter, not of equal xi; over a short strip the two
    are the same.
    """
    gmsh = gmsh_or_word()
    gmsh.initialize()
    gmsh.option.setNumber("General.Terminal", 0)
    total = 0.0
    occ = gmsh.model.occ
    for patch in patches:
        for low, high in pairwise(patch.s_lines):
            for a, b in pairwise(np.linspace(low, high, strips + 1)):
                wires = []
                for t in (0.0, 1.0):
                    at = patch.at(np.linspace(a, b, points), t) / 1000.0
                    spline = occ.addSpline([occ.addPoint(*map(float, p)) for p in at])
                    wires.append(occ.addWire([spline]))
                made = occ.addThruSections(wires, makeSolid=False, makeRuled=True)
                total += sum(occ.getMass(2, tag) for dim, tag in made if dim == 2)
    gmsh.finalize()
    return total
