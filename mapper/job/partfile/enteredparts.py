"""A part whose area is entered: from templates, covering foil or its weight."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from mapper.job.partfile.check import Notes
from mapper.job.partfile.enteredkeys import ENTERED, FOUND
from mapper.job.partfile.partsheet import PartSheet, at_key
from mapper.job.partfile.spec import PartSpec
from mapper.job.partfile.values import INCH
from meshes.outline import rectangle_ring
from meshes.plate import plate

Row = dict[str, Any]


def entered_area(how: str, own: Mapping[str, Any], units: str) -> float:
    """The area (mm2) that the values of a part file give.

    template: as entered. foil: foil mass / sample mass x sample area (foil of one gauge). weight:
    2 x mass / (density x mean thickness), both sides of the walls; edges are not in it.
    """
    square = INCH**2 if units == "in" else 1.0
    if how == "template":
        return float(own["area"]) * square
    if how == "foil":
        share = float(own["foil_mass"]) / float(own["sample_mass"])
        return share * float(own["sample_area"]) * square
    # g / (g/cm3) is cm3, a thousand mm3.
    volume = 1000.0 * float(own["mass"]) / float(own["density"])
    return 2.0 * volume / float(own["thickness"])


def found_words(spec: PartSpec) -> str:
    """How the area was found, as a sentence."""
    own, how = spec.own, spec.measured.how
    unit = f"square {'inches' if spec.units == 'in' else 'mm'}"
    if how == "template":
        words = f"by templates laid on the surface: {own['area']:g} {unit}"
    elif how == "foil":
        words = (
            f"by covering it with foil: {own['foil_mass']:g} g of foil, of which"
            f" {own['sample_area']:g} {unit} weigh {own['sample_mass']:g} g"
        )
    else:
        gauge = float(own["thickness"]) / (INCH if spec.units == "in" else 1.0)
        words = (
            f"from its weight: {own['mass']:g} g at {own['density']:g} g/cm³ in walls"
            f" {gauge:g} {spec.units} thick on average, both sides"
        )
    return f"The area was found {words}; it is known to ± {spec.measured.tolerance:g} %."


def entered_sheets(spec: PartSpec) -> Iterator[PartSheet]:
    """One square sheet "surface" of the entered area, with one face."""
    side = math.sqrt(entered_area(spec.measured.how, spec.own, spec.units))
    with at_key(spec):
        (sheet,) = plate(
            rectangle_ring(side, side), name="surface", face_names=("surface",), datum=spec.datum
        )
    yield PartSheet(sheet)


def check_entered(values: Row, notes: Notes) -> None:
    """Note values that are missing for the way the area was found, and those of another way."""
    if values.get("shape") not in ENTERED:
        return
    how = str((values.get("measured") or {}).get("how"))
    if how not in FOUND:
        return
    for key in FOUND[how]:
        if key not in values and not notes.bad((key,)):
            notes.mistake((key,), "it is missing;", f"an area by {how} needs it.")
    for other, keys in FOUND.items():
        for key in keys:
            if other != how and key in values:
                notes.mistake(
                    (key,),
                    f"an area by {how} has none;",
                    f"{' and '.join(FOUND[how])} are allowed.",
                    "Take it out, or change [measured] how.",
                )
    if values.get("faces"):
        notes.mistake(("faces",), "the whole surface is one face;", "no names are allowed.")
    if (values.get("measured") or {}).get("tolerance", 100.0) < 2.0:
        notes.warn(
            ("measured", "tolerance"),
            f"{values['measured']['tolerance']:g} % was given;",
            "an area found in this way is rarely known so well.",
            "5 to 20 is usual.",
        )
