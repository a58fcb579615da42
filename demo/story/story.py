"""The whole story in one list, with the cans of stripper weighed through it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from demo.cast import CANS
from demo.story import (
    arrival,
    blasting,
    dismantling,
    finish,
    metal_body,
    metal_left,
    metal_right,
    metal_tail,
    strip_body,
    strip_left,
    strip_right,
    survey,
)
from demo.story.row import Ref, Row
from mapper.errors import MapperError


def weighed(rows: Sequence[Row]) -> tuple[Row, ...]:
    """The rows with each can's weight before and after every go, in the order of the clock.

    A can that does not hold enough for the next go is closed and the next one opened. MapperError
    where a can is opened before it was delivered, or none is left.
    """
    result = list(rows)
    goes = sorted((i for i, row in enumerate(rows) if row.poured), key=lambda i: rows[i].when)
    cans = iter(CANS)
    number, delivered, scale = next(cans)
    for i in goes:
        row = rows[i]
        while scale - row.poured < 0.3:
            number, delivered, scale = next(cans, ("", row.when.date(), -1.0))
            if not number:
                raise MapperError(f"No can is left on {row.when}.", "CANS of the cast lists them.")
        if row.when.date() < delivered:
            raise MapperError(f"Can {number} is open on {row.when}.", f"It came on {delivered}.")
        after = round(scale - row.poured, 2)
        values = {
            **row.values, "lot": Ref("lot", number), "mass_before": scale, "mass_after": after,
        }  # fmt: skip
        result[i] = replace(row, values=values)
        scale = after
    return tuple(result)


ROWS: tuple[Row, ...] = weighed(
    [
        *arrival.ROWS,
        *survey.ROWS,
        *dismantling.ROWS,
        *strip_right.ROWS,
        *strip_left.ROWS,
        *strip_body.ROWS,
        *blasting.ROWS,
        *metal_right.ROWS,
        *metal_left.ROWS,
        *metal_tail.ROWS,
        *metal_body.ROWS,
        *finish.ROWS,
    ]
)
