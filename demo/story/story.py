"""The whole story in one list."""

from __future__ import annotations

from demo.story import arrival, dismantling, metal, metal_rest, stripping, stripping_rest
from demo.story.row import Row

ROWS: tuple[Row, ...] = (
    *arrival.ROWS,
    *dismantling.ROWS,
    *stripping.ROWS,
    *stripping_rest.ROWS,
    *metal.ROWS,
    *metal_rest.ROWS,
)
