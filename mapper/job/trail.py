"""Who wrote what, as the history tells it: what a reader who signs has to know beside the record.

The record says what holds; these say who wrote down a decision, who corrected a shape, and who
confirmed the places that it moved.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType


@dataclass(frozen=True)
class Written:
    """A change somebody made: by (a person's id), when, and the words of the action."""

    by: str
    when: datetime
    words: str = ""


@dataclass(frozen=True)
class Correction:
    """A part's shape corrected. carried: how many entries went over to it in the same action."""

    part_id: str
    written: Written
    carried: int


@dataclass(frozen=True)
class Settled:
    """An entry whose place was in doubt after a correction and was settled since.

    drawn_again: whether it was drawn anew; else somebody said that it lies where it is shown.
    """

    entry_id: str
    written: Written
    drawn_again: bool = False


@dataclass(frozen=True)
class Trail:
    """What the history of a job says about its record. Empty where nobody looked it up.

    decided: entry id -> who last wrote its disposition down; changed: entry id -> its last change,
    being carried to a corrected shape and confirmed there left out; corrections in the order they
    were made; settled: entry id -> how its place was.
    """

    decided: Mapping[str, Written] = field(default_factory=lambda: MappingProxyType({}))
    changed: Mapping[str, Written] = field(default_factory=lambda: MappingProxyType({}))
    corrections: tuple[Correction, ...] = ()
    settled: Mapping[str, Settled] = field(default_factory=lambda: MappingProxyType({}))
