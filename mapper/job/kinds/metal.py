"""What is done to bare metal and what goes on it, and the parts that came off."""

from __future__ import annotations

from mapper.job.fields import Field, Kind
from mapper.job.kinds.shared import ATTEMPTS, LOT, PRODUCT, START, STOP, TEMPERATURE

AREA = frozenset({"area", "place"})

TREATMENT = Kind(
    "treatment",
    "treatments",
    "what is done to bare metal: acid brightener, conversion coat, blend-out",
    AREA,
    (
        Field(
            "what",
            "what is done",
            "choice",
            choices=("acid brightener", "conversion coat", "blend-out"),
            expected=True,
            help="no acid and no conversion coat on steel or magnesium without authority",
        ),
        PRODUCT,
        LOT,
        Field(
            "dilution",
            "parts of water",
            "number",
            least=0,
            most=1000,
            help="parts of water to one of concentrate; 0 for neat",
        ),
        ATTEMPTS,
        Field(
            "water_break",
            "water-break result",
            "choice",
            choices=("film holds", "film breaks", "not tested"),
            expected=True,
            only_if=("what", "acid brightener", "conversion coat"),
            help="whether a film of clean water stays whole",
        ),
        Field("bare_since", "bare since", "time", expected=True, help="when the metal was bared"),
        Field("done_at", "done at", "time", expected=True, help="when it was finished"),
    ),
    "treatment",
)


def _film(name: str, label: str, help: str) -> Field:
    return Field(name, label, "measured", "um", least=0, most=20000, help=help)


PAINT_APPLICATION = Kind(
    "paint application",
    "paint applications",
    "putting a primer or topcoat on",
    AREA,
    (
        Field(
            "coat",
            "coat",
            "choice",
            choices=("primer", "topcoat"),
            expected=True,
            help="which layer it is",
        ),
        PRODUCT,
        LOT,
        Field("mix", "mix", "text", expected=True, help="parts, as weighed or poured"),
        Field("mixed_at", "pot mixed at", "time", expected=True, help="when pot life began"),
        _film("film_wet", "wet film", "as combed"),
        _film("film_dry", "dry film", "as read when cured"),
        TEMPERATURE,
        Field(
            "humidity", "humidity", "number", "%", least=0, most=100, help="relative, of the air"
        ),
        START,
        STOP,
        Field(
            "quantity", "quantity used", "number", "L", least=0, expected=True, help="mixed paint"
        ),
    ),
    "paint-application",
)

REMOVED_PART = Kind(
    "removed part",
    "removed parts",
    "an item taken off: where it came from, how it went in, where it is now",
    frozenset({"place", "point"}),
    (
        Field("name", "name", "text", expected=True, help="what people call it"),
        Field("number", "part number", "text", help="as stamped or printed on it"),
        Field(
            "quantity", "quantity", "number", least=1, whole=True, expected=True, help="how many"
        ),
        Field("from_words", "where from", "text", expected=True, help="rib, face, hole, bracket"),
        Field("up_arrow", "up arrow", "text", help="where on the item the arrow that means up is"),
        Field(
            "outboard_arrow",
            "outboard arrow",
            "text",
            help="where on the item the arrow that means outboard is",
        ),
        Field(
            "order",
            "order",
            "number",
            least=1,
            whole=True,
            help="1 came off first; going back is the other way round",
        ),
        Field(
            "first",
            "what comes first",
            "records",
            of=(
                Field(
                    "when",
                    "out or in",
                    "choice",
                    choices=("out", "in"),
                    expected=True,
                    help="before it comes out, or before it goes back in",
                ),
                Field("item", "removed part", "reference", refers_to="entry", help="its entry"),
                Field("words", "words", "text", help="what must be done first"),
            ),
            help="what must come out or go in before it",
        ),
        Field(
            "hardware",
            "hardware by hole",
            "records",
            of=(
                Field("hole", "hole", "text", expected=True, help="which hole"),
                Field("bolt", "bolt, screw or pin", "text", help="from under the head outwards"),
                Field("washers", "washers", "text", help="under head and nut, in order"),
                Field("nut", "nut", "text", help="or nut plate"),
                Field("locking", "locking", "text", help="wire, cotter pin: patterns, not reused"),
            ),
            help="what was in each hole, as it came out",
        ),
        Field("condition", "condition", "text", expected=True, help="as it came off"),
        Field("tag_code", "tag code", "text", expected=True, help="written on its bag"),
        Field("where_now", "where it is now", "text", expected=True, help="hook, bin, bench"),
    ),
    "removed-part",
)
