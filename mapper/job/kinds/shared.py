"""Fields that several kinds have, and the starting lists of choices they share."""

from __future__ import annotations

from mapper.job.fields import Field

TECHNIQUES = ("eye", "glass", "penetrant", "eddy current", "ultrasonic", "gauge")
COATS = ("enamel", "lacquer", "dope", "primer", "epoxy", "polyurethane", "filler", "unknown")
# What may be thrown at a coat, and every way to take one off: entries offer them, and
# `mapper/estimate/methods.py` has a row for each.
MEDIA = ("plastic media", "glass bead", "sand")
METHODS = ("chemical", *MEDIA, "hand abrasive")

PRODUCT = Field("product", "product", "text", expected=True, help="what it says on the can")
LOT = Field(
    "lot", "lot", "reference", refers_to="lot", expected=True, help="the batch that was used"
)
START = Field("start", "start", "time", expected=True, help="when work on it began")
STOP = Field("stop", "stop", "time", expected=True, help="when it was finished")
LABOUR = Field(
    "labour",
    "labour",
    "number",
    "min",
    least=0,
    expected=True,
    help="hands at work, without waiting; two people for ten minutes are 20 min",
)
TEMPERATURE = Field(
    "temperature", "temperature", "number", "C", least=-60, most=80, help="of the air beside it"
)
LEFT_AREA = Field(
    "left_area",
    "area still coated",
    "number",
    "mm2",
    least=0,
    expected=True,
    unless=("left_fraction",),
    help="what the round did not take off, as an area",
)
LEFT_FRACTION = Field(
    "left_fraction",
    "share still coated",
    "number",
    "%",
    least=0,
    most=100,
    help="what the round did not take off, as a share of the region",
)
WASTE_CONTAINER = Field(
    "waste_container",
    "waste container",
    "text",
    expected=True,
    help="the drum or tin that the waste went into",
)
TOOL = Field("tool", "tool", "text", help="which instrument, with its own number")
CALIBRATED = Field(
    "calibrated", "calibrated on", "date", help="date of the tool's last calibration"
)
COAT_FIELDS = (
    Field(
        "kind",
        "kind of coat",
        "choice",
        choices=COATS,
        expected=True,
        help="what the layer is made of",
    ),
    Field("colour", "colour", "text", help="in words"),
    Field(
        "thickness",
        "thickness",
        "measured",
        "um",
        least=0,
        most=20000,
        help="of this layer alone, dry",
    ),
    Field(
        "found",
        "how found",
        "choice",
        choices=("rubbed patch", "solvent test", "thickness gauge", "broken edge", "old papers"),
        help="how it is known that this layer is there",
    ),
)
COATS_AIMED_AT = Field(
    "coats",
    "coats aimed at",
    "records",
    of=(
        Field(
            "number",
            "number from outside",
            "number",
            least=1,
            whole=True,
            help="1 is the outermost coat of the finish system",
        ),
        COAT_FIELDS[0],
        COAT_FIELDS[1],
    ),
    help="the layers that should come off, outermost first",
)
ATTEMPTS = Field(
    "attempts",
    "attempts",
    "records",
    of=(
        Field("date", "date", "date", help="when it was tried"),
        Field("done", "what was done", "text", help="in words"),
        Field(
            "depth_after",
            "depth after",
            "measured",
            "mm",
            least=0,
            help="deepest place after this attempt",
        ),
        Field("black_left", "black left", "yes/no", help="whether dark corrosion still shows"),
    ),
    help="one record for each go at it; after the second, ask the inspector before the next",
)
