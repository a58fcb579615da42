"""The whole story in one list."""

from __future__ import annotations

from demo.story import arrival, metal, stripping
from demo.story.row import Row

ROWS: tuple[Row, ...] = (*arrival.ROWS, *stripping.ROWS, *metal.ROWS)
