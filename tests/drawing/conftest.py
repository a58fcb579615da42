"""Wings and a drawing shared by the tests of this room."""

from __future__ import annotations

import os

import pytest

from mapper.drawing.flatmap import draw_map
from mapper.drawing.scene import can_render
from tests.drawing.hand import SKIN, many, wing


@pytest.fixture(scope="session")
def right():
    return wing()


@pytest.fixture(scope="session")
def left():
    return wing(mirrored=True, part="left wing")


@pytest.fixture(scope="session")
def entries(right):
    return many(right)


@pytest.fixture(scope="session")
def drawing(right, entries):
    return draw_map(right, SKIN, "outer", entries, title="Right wing")


@pytest.fixture(scope="session")
def renderer():
    """Skips with a word where pictures cannot be rendered; fails where none may be skipped."""
    if not can_render():
        word = "no EGL here (Debian: libegl1, libegl-mesa0, libgl1-mesa-dri): no 3D pictures"
        if os.environ.get("MAPPER_NO_SKIP") == "1":
            pytest.fail(word)
        pytest.skip(word)
