"""What somebody saw: findings, markings, inspected areas, readings."""

from __future__ import annotations

from dataclasses import replace

from mapper.job.fields import Field, Kind
from mapper.job.kinds.shared import ATTEMPTS, CALIBRATED, TECHNIQUES, TOOL

CORROSION = (
    "surface",
    "pitting",
    "intergranular",
    "exfoliation",
    "galvanic",
    "crevice or faying surface",
    "filiform",
    "fretting",
    "stress",
    "microbial",
    "rust",
)


def _length(name: str, label: str, help: str, **more: object) -> Field:
    return Field(name, label, "number", "mm", least=0, help=help, **more)  # type: ignore[arg-type]


def _computed(name: str, label: str, help: str) -> Field:
    return Field(name, label, "number", "mm", least=0, help=help, computed=True)


FINDING = Kind(
    "finding",
    "findings",
    "something an inspector writes up: corrosion, dent, scratch, crack, hole, earlier repair",
    frozenset({"area", "line", "point", "place"}),
    (
        Field(
            "what",
            "what it is",
            "choice",
            choices=(
                "corrosion",
                "dent",
                "crack",
                "hole",
                "filler",
                "earlier repair",
                "wear",
                "scratch",
                "missing",
            ),
            expected=True,
            help="what was found",
        ),
        Field(
            "corrosion",
            "kind of corrosion",
            "choice",
            choices=CORROSION,
            expected=True,
            only_if=("what", "corrosion"),
            help="which kind, where it is corrosion",
        ),
        _length("length", "length", "longest extent as measured by hand"),
        _length("width", "width", "extent square to the length"),
        Field(
            "depth_found",
            "depth as found",
            "measured",
            "mm",
            least=0,
            most=1000,
            expected=True,
            only_if=("what", "corrosion", "dent", "wear", "scratch"),
            help="before anything was taken off; +/- is a 95 % half-width",
        ),
        Field(
            "depth_cleaned",
            "depth after cleaning",
            "measured",
            "mm",
            least=0,
            most=1000,
            expected=True,
            only_if=("what", "corrosion"),
            help="with all corrosion out, which is the depth that counts",
        ),
        Field(
            "technique",
            "technique",
            "choice",
            choices=TECHNIQUES,
            expected=True,
            help="how it was found or measured",
        ),
        TOOL,
        CALIBRATED,
        ATTEMPTS,
        Field(
            "gauge",
            "gauge of the sheet",
            "measured",
            "mm",
            least=0,
            most=1000,
            help="thickness of sound sheet beside it",
        ),
        Field(
            "gauge_basis",
            "gauge: measured or nominal",
            "choice",
            choices=("measured", "nominal"),
            expected=True,
            only_if=("gauge",),
            help="measured here or from the papers; nominal without +/- decides nothing",
        ),
        _length("limit", "limit of remaining thickness", "least thickness the document allows"),
        Field(
            "limit_document",
            "limit: document",
            "text",
            expected=True,
            only_if=("limit",),
            help="where the limit stands",
        ),
        Field(
            "limit_page", "limit: page", "text", expected=True, only_if=("limit",), help="its page"
        ),
        Field(
            "limit_revision",
            "limit: revision",
            "text",
            expected=True,
            only_if=("limit",),
            help="or date",
        ),
        _length("blend_length", "blend: length", "of the smooth dish, long axis"),
        _length("blend_width", "blend: width", "of the smooth dish, short axis"),
        Field(
            "blend_depth",
            "blend: depth",
            "measured",
            "mm",
            least=0,
            most=1000,
            help="deepest place of the dish",
        ),
        Field(
            "blend_convention",
            "blend: ratio counts",
            "choice",
            choices=("whole length", "each side"),
            expected=True,
            only_if=("blend_length",),
            help="whether length to depth is of the whole dish or of one side; it is printed",
        ),
        Field(
            "disposition",
            "disposition",
            "text",
            help="what the licensed person decided, in that person's words",
        ),
        Field(
            "disposed_by",
            "disposition by",
            "reference",
            refers_to="person",
            expected=True,
            only_if=("disposition",),
            help="who decided",
        ),
        Field(
            "licence",
            "licence number",
            "text",
            expected=True,
            only_if=("disposition",),
            help="of the person who decided",
        ),
        Field(
            "basis",
            "basis",
            "text",
            expected=True,
            only_if=("disposition",),
            help="the data the decision rests on",
        ),
        Field(
            "disposed_on",
            "decided on",
            "date",
            expected=True,
            only_if=("disposition",),
            help="when",
        ),
        Field(
            "continues",
            "continues the finding",
            "reference",
            refers_to="entry",
            help="the earlier entry of the same defect",
        ),
        _computed("rivet_row_distance", "nearest rivet row", "along the sheet, worked out"),
        _computed("edge_distance", "nearest edge", "along the sheet, worked out"),
        _computed("rib_distance", "nearest rib", "along the sheet, worked out"),
    ),
    "finding",
)

MARKING = Kind(
    "marking",
    "markings",
    "a stamp, stencil, placard, ghost lettering or pencil mark, recorded before it is stripped",
    frozenset({"area", "place"}),
    (
        Field(
            "marking",
            "kind of marking",
            "choice",
            choices=("stamp", "stencil", "placard", "ghost lettering", "pencil"),
            expected=True,
            help="how it was put on",
        ),
        Field("text", "text as read", "text", expected=True, help="every sign as it stands"),
        _length("letter_height", "letter height", "of a capital letter", expected=True),
        Field("colour", "colour", "text", expected=True, help="in words"),
        Field(
            "fate",
            "keep, trace or let go",
            "choice",
            choices=("keep", "trace", "let go"),
            expected=True,
            help="what is to become of it",
        ),
        Field(
            "traced_outline",
            "traced outline",
            "shape",
            expected=True,
            only_if=("fate", "trace"),
            help="the letters as traced, in flat mm",
        ),
    ),
    "marking",
)

INSPECTED_AREA = Kind(
    "inspected area",
    "inspected areas",
    "where somebody looked, by which technique, on which date; clean is data too",
    frozenset({"area", "place"}),
    (
        Field(
            "technique",
            "technique",
            "choice",
            choices=TECHNIQUES,
            expected=True,
            help="how it was looked at",
        ),
        Field("kit", "kit", "text", help="probe, penetrant, magnifier"),
        Field("light", "light", "text", help="lamp, daylight, ultraviolet"),
        Field(
            "inspector",
            "inspected by",
            "reference",
            refers_to="person",
            expected=True,
            help="who looked",
        ),
        Field("qualification", "qualification", "text", help="for this technique"),
        Field("date", "date", "date", expected=True, help="when it was looked at"),
        Field(
            "result",
            "result",
            "choice",
            choices=("nothing found", "findings recorded"),
            expected=True,
            help="what came of it",
        ),
        Field(
            "findings",
            "findings",
            "records",
            of=(
                Field(
                    "finding",
                    "finding",
                    "reference",
                    refers_to="entry",
                    expected=True,
                    help="an entry of the kind finding",
                ),
            ),
            expected=True,
            only_if=("result", "findings recorded"),
            help="the findings that were made here",
        ),
    ),
    "inspected-area",
)

_READ = "the value, with its +/- as a 95 % half-width"


def _reading(name: str, label: str, unit: str, least: float | None, most: float | None) -> Field:
    return Field(
        name,
        label,
        "measured",
        unit,
        least=least,
        most=most,
        expected=True,
        only_if=("quantity", label),
        help=_READ,
    )


READING = Kind(
    "reading",
    "readings",
    "one measured value at a point",
    frozenset({"point", "place"}),
    (
        Field(
            "quantity",
            "quantity",
            "choice",
            choices=("film thickness", "gauge", "hardness", "conductivity", "temperature"),
            expected=True,
            help="what was measured; its value goes into the field of that name",
        ),
        _reading("film_thickness", "film thickness", "um", 0, 20000),
        _reading("gauge", "gauge", "mm", 0, 1000),
        _reading("hardness", "hardness", "", 0, None),
        Field(
            "hardness_scale",
            "hardness scale",
            "text",
            expected=True,
            only_if=("quantity", "hardness"),
            help="scale and load",
        ),
        _reading("conductivity", "conductivity", "%IACS", 0, 110),
        _reading("temperature", "temperature", "C", -60, 400),
        Field("other_value", "other value", "measured", help="of another quantity"),
        Field("other_unit", "unit of the other value", "text", help="in words"),
        replace(TOOL, expected=True),
        replace(CALIBRATED, expected=True),
    ),
    "reading",
)
