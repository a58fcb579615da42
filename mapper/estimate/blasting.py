"""Blasting: hours at the trigger, media thrown and used, and when it pays to rig an enclosure.

Bookkeeping of the trade (common practice, no source): a nozzle takes off so much volume of dry
paint an hour, hands are at the trigger only part of their time, and each cycle breaks down a share
of the media. Nothing here says that a sheet may be blasted: see `advice.py` and `cautions.py`.
Every function takes plain numbers or arrays of trials.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mapper.estimate.inputs import Number, number

POUND = 0.45359237  # kg, by definition


@dataclass(frozen=True, eq=False)
class Blasting:
    """What blasting one region takes: hours at the trigger, hours of labour, kg of media thrown
    (with each cycle counted), kg of media used up, kg of dry paint taken off."""

    trigger_hours: Number
    hours: Number
    thrown: Number
    media: Number
    paint: Number

    @property
    def waste(self) -> Number:
        """kg of dust to collect: broken media and the paint in it."""
        return self.media + self.paint


def blast(
    area: Number,
    thickness: Number,
    *,
    rate: Number,
    duty: Number,
    flow: Number,
    breakdown: Number,
    density: Number,
) -> Blasting:
    """Blasting `thickness` um of dry paint off `area` m2 with one nozzle.

    rate: um m2/h. duty: share of the labour spent at the trigger, (0, 1]. flow: kg/h of media out
    of the nozzle. breakdown: share of the media that one cycle breaks, 0..1. density: g/cm3 of dry
    paint (um x m2 x g/cm3 is grams, an identity). No area or no paint: all 0.
    """
    number("The area", area, unit="m2", least=0)
    number("The thickness", thickness, unit="um", least=0)
    number("The rate of blasting", rate, unit="um m2/h", above=0)
    number("The share of time at the trigger", duty, above=0, most=1)
    number("The media flow", flow, unit="kg/h", above=0)
    number("The breakdown of one cycle", breakdown, least=0, most=1)
    number("The density of the paint", density, unit="g/cm3", above=0)
    volume = area * thickness
    trigger = volume / rate
    thrown = flow * trigger
    return Blasting(
        number("hours", trigger),
        number("hours", trigger / duty),
        number("media", thrown),
        number("media", breakdown * thrown),
        number("paint", volume * density / 1000.0),
    )


def break_even(rig: Number, chemical: Number, blasting: Number) -> Number:
    """m2 above which blasting takes fewer hours than chemical stripping: rig / (chemical -
    blasting), with `rig` hours to set up the enclosure and the others in h/m2.

    Infinite where blasting is no quicker by the square metre; 0 where nothing has to be rigged.
    """
    number("The hours to rig", rig, unit="h", least=0)
    number("The chemical hours", chemical, unit="h/m2", least=0)
    number("The blasting hours", blasting, unit="h/m2", least=0)
    saved = np.asarray(chemical, dtype=np.float64) - blasting
    # Where nothing is saved the quotient means nothing: divide by one there, and say infinity.
    area = np.where(saved > 0.0, np.asarray(rig) / np.where(saved > 0.0, saved, 1.0), np.inf)
    return float(area) if area.ndim == 0 else area


def bolt_surface(diameter: Number, length: Number, flats: Number, head: Number) -> Number:
    """mm2 of a hexagon bolt: shank pi d L, six flats (6/sqrt 3) AF k, both ends of the head
    sqrt 3 AF^2 (identities of the hexagon; threads are taken as smooth, the shank's end as covered
    by what the shank covers of the head). diameter, length, flats across, head height in mm.
    """
    number("The diameter", diameter, unit="mm", above=0)
    number("The length", length, unit="mm", least=0)
    number("The width across flats", flats, unit="mm", above=0)
    number("The head's height", head, unit="mm", least=0)
    root = np.sqrt(3.0)
    return number(
        "The surface",
        np.pi * diameter * length + 6.0 / root * flats * head + root * flats * flats,
    )


def tube_surface(
    diameter: Number, length: Number, footprints: Number = 0.0, footprint: Number = 1.0
) -> Number:
    """m2 of tube pi D L less the round `footprints` (how many) of other tubes, `footprint` mm in
    diameter each. diameter mm, length m of all tubes together. MapperError where the footprints
    would take more than there is."""
    number("The diameter", diameter, unit="mm", above=0)
    number("The length", length, unit="m", least=0)
    number("The number of footprints", footprints, least=0)
    number("The diameter of a footprint", footprint, unit="mm", above=0)
    bare = np.pi * diameter / 1000.0 * length
    covered = footprints * np.pi / 4.0 * (footprint / 1000.0) ** 2
    return number("The surface less its footprints", bare - covered, unit="m2", least=0)
