"""What many drawings of one shape share: worked out once, kept as long as the shape itself."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

Made = TypeVar("Made")

_KEPT: WeakKeyDictionary[Any, dict[Hashable, Any]] = WeakKeyDictionary()


def kept(owner: object, key: Hashable, make: Callable[[], Made]) -> Made:
    """What `make` gives for a key of an owner, made on first use.

    owner: frozen, compared by identity (a Skin, a Geometry); what is kept goes when it goes, so
    `make` must not give back anything that holds the owner.
    """
    shelf = _KEPT.setdefault(owner, {})
    if key not in shelf:
        shelf[key] = make()
    made: Made = shelf[key]
    return made
