"""Every rate and quantity an estimate starts from, its range, and what that rests on.

A shop changes one through its settings: the key is "estimate." and the default's name, the value is
a number (the shop's own figure, taken as it is, without a range), or a mapping of any of "value",
"low", "high" and "basis" (words). Low and high are the 10 % and 90 % points of a starting range,
until a shop has logs of its own. Settings without the prefix belong to other rooms and stay as they
are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any

from mapper.errors import MapperError
from mapper.estimate.inputs import number
from mapper.estimate.rate import PREFIX, SHOP, Default
from mapper.estimate.starting import STARTING

DEFAULTS: Mapping[str, Default] = MappingProxyType({d.name: d for d in STARTING})


class RateTable(Mapping[str, Default]):
    """The rates in force: every default by name, with the shop's changes in place.

    `rates["lap"].value`; `rates.changed`: the names the shop has set.
    """

    def __init__(self, rates: Mapping[str, Default], changed: tuple[str, ...] = ()) -> None:
        self._rates = MappingProxyType(dict(rates))
        self.changed = changed

    def __getitem__(self, name: str) -> Default:
        return self._rates[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._rates)

    def __len__(self) -> int:
        return len(self._rates)


def rates_of(settings: Mapping[str, Any]) -> RateTable:
    """The rates in force in a shop with these settings (`Shop.settings`); none: the defaults.

    MapperError for an unknown "estimate." key, a value out of range, a range that does not hold its
    value, or a word that is not one of value, low, high, basis.
    """
    rates = dict(DEFAULTS)
    changed = []
    for key, given in settings.items():
        if not str(key).startswith(PREFIX):
            continue
        name = str(key)[len(PREFIX) :]
        if name not in DEFAULTS:
            close = get_close_matches(name, list(DEFAULTS), n=1)
            hint = f"Did you mean {PREFIX + close[0]!r}?" if close else ""
            known = ", ".join(DEFAULTS)
            raise MapperError(
                f"No setting {key!r}.", f"After {PREFIX!r} comes one of {known}.", hint
            )
        rates[name] = _changed(DEFAULTS[name], given)
        changed.append(name)
    return RateTable(rates, tuple(changed))


def _changed(old: Default, given: Any) -> Default:
    """A default with a shop's setting put in."""
    if not isinstance(given, Mapping):
        value = _plain(old, "value", given)
        return replace(old, value=value, low=value, high=value, basis=SHOP)
    allowed = ("value", "low", "high", "basis")
    for word in given:
        if word not in allowed:
            raise MapperError(
                f"{PREFIX}{old.name} has {word!r}.", f"It may have {', '.join(allowed)}."
            )
    value = _plain(old, "value", given.get("value", old.value))
    # A figure given without a range has none; a range given alone keeps the value it had.
    alone = "value" in given
    low = _plain(old, "low", given.get("low", value if alone else old.low))
    high = _plain(old, "high", given.get("high", value if alone else old.high))
    basis = given.get("basis", SHOP)
    if not isinstance(basis, str) or not basis.strip():
        raise MapperError(
            f"{PREFIX}{old.name} has the basis {basis!r}.", "A basis is words.", "Say where from."
        )
    return replace(old, value=value, low=low, high=high, basis=basis)


def _plain(old: Default, word: str, given: Any) -> float:
    name = f"{PREFIX}{old.name}, {word},"
    return float(number(name, given, unit=old.unit, least=old.least, most=old.most))
