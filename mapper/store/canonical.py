"""One spelling for every record, so that equal content has equal bytes and equal hashes.

Canonical JSON here: keys sorted by code point, no blanks, text as it is (UTF-8), numbers as Python
spells them (the shortest decimals that give the same double), no NaN and no infinity.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from collections.abc import Set as AbstractSet
from typing import Any

from mapper.store.errors import StoreError

# One encoder kept: making one for each call costs as much as a small record.
_ENCODER = json.JSONEncoder(
    ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
)


def canonical(content: Any) -> str:
    """The canonical JSON text of a plain value (dicts, lists, text, numbers, bool, None).

    Raises StoreError for what JSON cannot hold: NaN, infinity, half a surrogate pair, other types.
    """
    try:
        text = _ENCODER.encode(content)
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise StoreError(
            f"A text holds {error.object[error.start]!r}, which is half of a character.",
            "Text must be whole characters (Unicode).",
            "Type it again.",
        ) from error
    except (TypeError, ValueError) as error:
        raise StoreError(
            f"A value cannot be stored: {error}.", "Numbers must be finite, text must be text."
        ) from error
    return text


def digest(text: str | bytes) -> str:
    """SHA-256 of a text (as UTF-8) or of bytes, 64 hexadecimal digits."""
    return hashlib.sha256(text.encode("utf-8") if isinstance(text, str) else text).hexdigest()


def same_content(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether two plain records say the same, their version numbers aside."""
    return differences(one, other) == ()


def differences(mine: Mapping[str, Any], stored: Mapping[str, Any]) -> tuple[str, ...]:
    """Each differing field in words, "name: 'a' given, 'b' stored"; of values within a field only
    those that differ, "values, technique: ..."; () where they say the same."""
    return tuple(_differing(mine, stored, {"version"}))


def _differing(
    mine: Mapping[str, Any], stored: Mapping[str, Any], aside: AbstractSet[str]
) -> Iterator[str]:
    for key in sorted((mine.keys() | stored.keys()) - aside):
        one, other = mine.get(key), stored.get(key)
        if one == other:
            continue
        if isinstance(one, Mapping) and isinstance(other, Mapping):
            yield from (f"{key}, {line}" for line in _differing(one, other, set()))
        else:
            yield f"{key}: {_short(one)} given, {_short(other)} stored"


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, default=str)
    return text if len(text) <= 80 else f"{text[:60]}... ({len(text)} characters)"
