"""Paint: spreading rates, litres, pots and dry mass.

The spreading rate is an identity: a litre of paint with the volume solids VS % makes 10 VS / d
square metres of a film d um thick. What reaches the surface is the transfer efficiency; what stays
in the gun, cup and hose is the line loss. Every function takes plain numbers or arrays of trials.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mapper.estimate.inputs import Number, number

FT2_MIL_PER_GALLON = 231.0 * 1000.0 / 144.0  # 231 in3 a US gallon, 144 in2 a ft2, 1000 mil an inch


@dataclass(frozen=True, eq=False)
class Pots:
    """Pots to mix: how many, litres in each, and litres mixed that are thrown away."""

    count: Number
    each: Number
    discarded: Number


def spreading_rate(solids: Number, dry_um: Number) -> Number:
    """Theoretical m2/L from volume solids (% of volume) and dry film (um): 10 VS / d (identity)."""
    number("The volume solids", solids, unit="%", above=0, most=100)
    number("The dry film", dry_um, unit="um", above=0)
    return 10.0 * solids / dry_um


def spreading_rate_us(solids: Number, dry_mil: Number) -> Number:
    """Theoretical ft2 per US gallon from volume solids in % and dry film in mil (identity)."""
    number("The volume solids", solids, unit="%", above=0, most=100)
    number("The dry film", dry_mil, unit="mil", above=0)
    return FT2_MIL_PER_GALLON * solids / 100.0 / dry_mil


def wet_film(litres: Number, area: Number) -> Number:
    """Wet film in um of `litres` spread over `area` m2 without loss."""
    number("The quantity", litres, unit="L", least=0)
    number("The area", area, unit="m2", above=0)
    return 1000.0 * litres / area


def litres(area: Number, solids: Number, dry_um: Number, transfer: Number) -> Number:
    """Litres to put `dry_um` on `area` m2 at the transfer efficiency (0, 1]; line loss not in it.

    No area: 0.
    """
    number("The area", area, unit="m2", least=0)
    number("The transfer efficiency", transfer, above=0, most=1)
    return area / (spreading_rate(solids, dry_um) * transfer)


def with_line_loss(needed: Number, loss: Number) -> Number:
    """Litres with what stays in the gun and lines added; nothing to spray, nothing lost."""
    number("The quantity", needed, unit="L", least=0)
    number("The line loss", loss, unit="L", least=0)
    return number("The quantity", np.where(np.asarray(needed) > 0, needed + loss, 0.0))


def pots(needed: Number, kit: Number, spray_rate: Number, pot_life: Number) -> Pots:
    """Pots for `needed` litres: each as large as the kit (L), or as much as is sprayed (L/h) within
    the pot life (h) if that is less. Nothing needed: no pot."""
    number("The quantity", needed, unit="L", least=0)
    number("The kit", kit, unit="L", above=0)
    number("The spray rate", spray_rate, unit="L/h", above=0)
    number("The pot life", pot_life, unit="h", above=0)
    each = np.minimum(kit, spray_rate * pot_life)
    count = np.ceil(needed / each - 1e-9)
    thrown = np.maximum(0.0, count * each - needed)
    return Pots(number("Pots", count), number("A pot", each), number("Discarded", thrown))


def dry_mass(area: Number, dry_um: Number, density: Number) -> Number:
    """kg of a dry film: m2 x um x g/cm3 is grams (identity). No area: 0."""
    number("The area", area, unit="m2", least=0)
    number("The dry film", dry_um, unit="um", least=0)
    number("The density", density, unit="g/cm3", above=0)
    return area * dry_um * density / 1000.0
