"""Tables as CSV that no spreadsheet takes for formulas."""

from __future__ import annotations

from typing import Any

import pandas as pd


def to_csv(frame: pd.DataFrame) -> str:
    """A table as CSV, heads included: texts that a spreadsheet would calculate get a ' in front.

    Numbers are never touched; no rows give the heads alone.
    """
    safe = frame.rename(columns=_guarded).map(_guarded) if len(frame.columns) else frame
    return str(safe.to_csv(index=False, lineterminator="\n"))


def _guarded(value: Any) -> Any:
    # Spaces before it do not make a formula safe: some programs take them off.
    if isinstance(value, str) and value.lstrip(" ")[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{value}"
    return value
