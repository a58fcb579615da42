"""Checks of numbers that go into a formula: what was given, what is allowed, what to do."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError

Array = NDArray[np.float64]
# A formula is worked once with plain numbers and once with an array of trials.
Number = float | Array


def number(
    name: str,
    given: Any,
    *,
    unit: str = "",
    least: float = -math.inf,
    most: float = math.inf,
    above: float = -math.inf,
    below: float = math.inf,
) -> Number:
    """`given` when every value of it lies in least..most and strictly between above and below.

    name, unit: for the message. Raises MapperError for text, yes/no, NaN, infinity and values out
    of range, naming the first one that is wrong. An empty array is returned as it is.
    """
    if isinstance(given, bool | np.bool_ | str) or given is None:
        raise MapperError(f"{name} is {given!r}.", "It must be a number.", "Enter a number.")
    values = np.asarray(given, dtype=np.float64)
    wrong = ~(
        np.isfinite(values)
        & (values >= least)
        & (values <= most)
        & (values > above)
        & (values < below)
    )
    if np.any(wrong):
        bad = float(values[wrong].flat[0]) if values.ndim else float(values)
        limits = []
        if above > -math.inf:
            limits.append(f"more than {above:g}")
        if least > -math.inf:
            limits.append(f"at least {least:g}")
        if below < math.inf:
            limits.append(f"less than {below:g}")
        if most < math.inf:
            limits.append(f"at most {most:g}")
        unit_words = f" {unit}" if unit else ""
        raise MapperError(
            f"{name} is {bad:g}{unit_words}.",
            f"It must be {' and '.join(limits) or 'a finite number'}{unit_words}.",
            "Enter a value in that range.",
        )
    return float(values) if values.ndim == 0 else values
