"""JSON put together from pieces that are JSON already: what was made once is not made again."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any


def text(value: Any) -> str:
    """A plain value as JSON."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def listed(pieces: Iterable[str]) -> str:
    """Pieces of JSON as a list; "[]" for none."""
    return f"[{','.join(pieces)}]"


def joined(**pieces: str) -> bytes:
    """Pieces of JSON by name, as an object."""
    return ("{" + ",".join(f'"{name}":{piece}' for name, piece in pieces.items()) + "}").encode()
