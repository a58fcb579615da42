"""What was worked out last of one shape: one zone is stripped, looked at and treated in turn."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TypeVar
from weakref import WeakKeyDictionary

from mapper.surface.geometry import Geometry

Made = TypeVar("Made")
Kept = WeakKeyDictionary[Geometry, "OrderedDict[Hashable, Made]"]

MOST = 12  # of one shape


def remembered(
    kept: Kept[Made], geometry: Geometry, key: Hashable, make: Callable[[], Made]
) -> Made:
    """What `make` gives for a key of a shape; the MOST last asked for are kept as long as it is.

    What is kept must be immutable: everybody is given the same.
    """
    shelf = kept.setdefault(geometry, OrderedDict())
    found = shelf.pop(key, None)
    made = make() if found is None else found
    shelf[key] = made
    while len(shelf) > MOST:
        shelf.popitem(last=False)
    return made
