"""What is on the metal, and taking it off: coat zones, applications, blasting, masking, trials."""

from __future__ import annotations

from mapper.job.fields import Field, Kind
from mapper.job.kinds.shared import (
    COAT_FIELDS,
    COATS_AIMED_AT,
    LABOUR,
    LEFT_AREA,
    LEFT_FRACTION,
    LOT,
    MEDIA,
    METHODS,
    PRODUCT,
    START,
    STOP,
    TEMPERATURE,
    WASTE_CONTAINER,
)

_TEST = ("found", "not found", "not tested")
AREA = frozenset({"area", "place"})

COAT_ZONE = Kind(
    "coat zone",
    "coat zones",
    "where one finish system, or *unknown*, is on a face",
    AREA,
    (
        Field(
            "finish_system",
            "finish system",
            "reference",
            refers_to="finish system",
            expected=True,
            unless=("coats", "unknown"),
            help="a stack of coats the shop has described",
        ),
        Field(
            "coats",
            "coats",
            "records",
            of=COAT_FIELDS,
            expected=True,
            unless=("finish_system", "unknown"),
            help="the stack here, outermost first, where it is not a described system",
        ),
        Field("lead_test", "lead test", "choice", choices=_TEST, expected=True, help="before dust"),
        Field(
            "chromate_test",
            "chromate test",
            "choice",
            choices=_TEST,
            expected=True,
            help="before dust",
        ),
        Field("unknown", "unknown", "yes/no", help="yes: nobody knows yet what is on here"),
    ),
    "coat-zone",
)


def _can(name: str, label: str, unit: str, **more: object) -> Field:
    help = "the can on the scale" if unit == "kg" else "what is in the can"
    return Field(name, label, "number", unit, least=0, help=help, **more)  # type: ignore[arg-type]


APPLICATION = Kind(
    "application",
    "applications",
    "one go of chemical stripper on a region: coat on, dwell, scrape",
    AREA,
    (
        COATS_AIMED_AT,
        PRODUCT,
        LOT,
        START,
        STOP,
        _can("mass_before", "can before (mass)", "kg", expected=True, unless=("volume_before",)),
        _can("mass_after", "can after (mass)", "kg", expected=True, unless=("volume_after",)),
        _can("volume_before", "can before (volume)", "L"),
        _can("volume_after", "can after (volume)", "L"),
        LABOUR,
        TEMPERATURE,
        LEFT_AREA,
        LEFT_FRACTION,
        WASTE_CONTAINER,
    ),
    "application",
)

BLASTING_ROUND = Kind(
    "blasting round",
    "blasting rounds",
    "one go with media on a region; one media per metal family",
    AREA,
    (
        COATS_AIMED_AT,
        Field(
            "media",
            "media",
            "choice",
            choices=MEDIA,
            expected=True,
            help="what is thrown; sand is for steel only",
        ),
        Field("grade", "grade", "text", expected=True, help="type and mesh of the media"),
        Field(
            "pressure",
            "pressure",
            "number",
            "bar",
            least=0,
            most=20,
            expected=True,
            help="at the nozzle",
        ),
        Field("nozzle", "nozzle bore", "number", "mm", least=0, most=50, help="inside diameter"),
        Field(
            "where",
            "cabinet or open",
            "choice",
            choices=("cabinet", "open"),
            expected=True,
            help="inside a cabinet, or with an open nozzle in an enclosure",
        ),
        Field(
            "trigger", "trigger time", "number", "min", least=0, expected=True, help="media flowing"
        ),
        LABOUR,
        Field("media_used", "media used", "number", "kg", least=0, help="broken down and lost"),
        LEFT_AREA,
        LEFT_FRACTION,
        WASTE_CONTAINER,
    ),
    "blasting-round",
)

MASKING = Kind(
    "masking",
    "maskings",
    "what is taped or covered before stripping",
    frozenset({"area", "line", "place"}),
    (
        Field(
            "protection",
            "what protects it",
            "choice",
            choices=("tape", "foil tape", "film and tape", "plug", "cover"),
            expected=True,
            help="what is put on",
        ),
        Field("on", "on", "time", expected=True, help="when it was put on"),
        Field("off", "off", "time", help="when it was taken off"),
    ),
    "masking",
)

TRIAL_PATCH = Kind(
    "trial patch",
    "trial patches",
    "a small region where a method is tried and timed before it is chosen",
    AREA,
    (
        Field(
            "method",
            "method",
            "choice",
            choices=METHODS,
            expected=True,
            help="how the coats came off",
        ),
        Field("product", "product or media", "text", expected=True, help="what was used"),
        Field(
            "area",
            "area",
            "number",
            "mm2",
            least=0,
            help="as measured by hand; the outline's own area is worked out",
        ),
        Field("minutes", "minutes", "number", "min", least=0, expected=True, help="hands at work"),
        Field("volume_used", "volume used", "number", "L", least=0, help="of a liquid"),
        Field("mass_used", "mass used", "number", "kg", least=0, help="of media or a paste"),
        Field("result", "result", "text", expected=True, help="in words"),
        Field("chosen", "chosen", "yes/no", expected=True, help="whether the method is taken"),
    ),
    "trial-patch",
)
