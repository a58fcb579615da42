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
    if not isinstance(value, str):
        return value
    # A carriage return alone is written without quotes, and what follows it becomes a row of its
    # own, which may begin with a formula.
    text = value.replace("\r\n", "\n").replace("\r", "\n")
    # Spaces and line breaks before it do not make a formula safe: some programs take them off.
    risky = text.lstrip()[:1] in ("=", "+", "-", "@") or value[:1] in ("\t", "\r")
    return f"'{text}" if risky else text
