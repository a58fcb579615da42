"""The one table of what a part file may say.

Checking, `mapper keys` and the documents are all made from it; a new key is one line here. A `Key`
says what one value may be; the tables below list the keys of each `[table]`, and `TOP` those above
the first header. Keys of one shape alone stand with it in `SHAPES`.
"""

from __future__ import annotations

from dataclasses import replace

from mapper.job.partfile.cutkeys import CONTROL_SURFACES
from mapper.job.partfile.key import FORMS, SHAPES, Key
from mapper.job.partfile.keytables import (
    ANY_HOLE,
    ATTACHMENT,
    HINGE,
    LAP,
    LIMITS,
    LOFTED,
    MEASURED,
    OPENING,
    PANEL,
    PLACEMENT,
    RIB,
    RIVET_ROW,
    SEAM,
    SECTION,
    SHEET,
    SPAR,
    STATIONS,
    STRINGER,
    WHOLE,
)

TOP: tuple[Key, ...] = (
    Key("units", "choice", "of every length in the file", True, choices=("mm", "in")),
    Key("part", "text", "name of the part", True),
    Key("shape", "choice", "what kind of shape it is", True, choices=tuple(SHAPES)),
    Key(
        "side",
        "choice",
        "left is the mirror image: describe it as if it were the right one",
        choices=("right", "left"),
        default="right",
    ),
    Key("note", "text", "anything a reader should know"),
    Key(
        "trailing_edge",
        "choice",
        "of four- and five-digit profiles: closed to a point, or open",
        choices=("closed", "open"),
        default="closed",
        shapes=LOFTED,
    ),
    Key(
        "trailing_edge_base",
        "choice",
        "whether the strip that closes an open trailing edge counts as a skin",
        choices=("counted", "not counted"),
        default="not counted",
        shapes=tuple(name for name in WHOLE if name in LOFTED),
    ),
    Key(
        "end_ribs",
        "choice",
        "whether the two ends count as skins",
        choices=("counted", "not counted"),
        default="not counted",
        shapes=WHOLE,
    ),
    Key(
        "faces",
        "texts",
        "names of the two faces, the one seen from outside first",
        count=2,
        default="outer, inner; outboard, inboard on a rib; forward, aft on a spar web",
    ),
    Key("bearings_inside", "yes/no", "bearings to take out or mask", default="false"),
    Key(
        "sections_from",
        "text",
        "part file of the loft this is a piece of, instead of [[section]]",
        shapes=("rib", "spar web", "access cover", *CONTROL_SURFACES),
    ),
    Key(
        "station",
        "length",
        "where the rib is, along the span",
        shapes=("rib",),
        default="its only section",
    ),
    Key(
        "chord",
        "percent",
        "where the web is, % chord",
        True,
        least=0.0,
        most=100.0,
        shapes=("spar web",),
    ),
    Key(
        "from_station",
        "length",
        LIMITS[0].help,
        shapes=("spar web", "access cover", *CONTROL_SURFACES),
        default="the first section",
    ),
    Key(
        "to_station",
        "length",
        LIMITS[1].help,
        shapes=("spar web", "access cover", *CONTROL_SURFACES),
        default="the last section",
    ),
    Key(
        "from_chord",
        "percent",
        LIMITS[2].help,
        least=0.0,
        most=100.0,
        shapes=("rib", "access cover", *CONTROL_SURFACES),
        default="0",
    ),
    Key(
        "to_chord",
        "percent",
        LIMITS[3].help,
        least=0.0,
        most=100.0,
        shapes=("rib", "access cover", *CONTROL_SURFACES),
        default="100",
    ),
    Key(
        "on_side",
        "choice",
        "surface that a piece of skin comes from",
        choices=("upper", "lower"),
        shapes=("access cover",),
        default="upper",
    ),
    Key("form", "choice", "what it looks like", True, choices=FORMS, shapes=("plate",)),
    Key(
        "form",
        "choice",
        "what it looks like",
        True,
        choices=(*FORMS, "piece of skin"),
        shapes=("access cover",),
    ),
    Key(
        "diameter",
        "length",
        "outside; of a tube at its beginning",
        above=0.0,
        shapes=("plate", "tube", "access cover"),
    ),
    Key(
        "length",
        "length",
        "of a tube; of an oval or rectangle, outboard",
        above=0.0,
        shapes=("plate", "tube", "access cover"),
    ),
    Key(
        "width",
        "length",
        "of an oval or rectangle, aft",
        above=0.0,
        shapes=("plate", "access cover"),
    ),
    Key(
        "corner_radius",
        "length",
        "of a rectangle",
        least=0.0,
        default="0",
        shapes=("plate", "access cover"),
    ),
    Key(
        "corners",
        "points",
        "of a polygon: [outboard, aft] of each corner",
        count=3,
        shapes=("plate", "access cover"),
    ),
    *(replace(key, shapes=(name,)) for name, shape in SHAPES.items() for key in shape.keys),
    Key("measured", "table", "how it was measured and how well", True, of=MEASURED),
    Key("placement", "table", "where it lies in the aircraft", of=PLACEMENT),
    Key("attachment", "table", "or the part it is attached to", of=ATTACHMENT),
    Key("stations", "table", "what stations run along and from where", of=STATIONS),
    Key("sheet", "table", "alloy, gauge and cladding where no panel says otherwise", of=SHEET),
    Key("section", "tables", "a section, from inboard to outboard", of=SECTION, shapes=LOFTED),
    Key("seam", "tables", "where two sheets meet; seams make panels", of=SEAM, shapes=WHOLE),
    Key("rib", "tables", "a rib", of=RIB, shapes=WHOLE),
    Key("spar", "tables", "a spar", of=SPAR, shapes=WHOLE),
    Key("stringer", "tables", "a stringer, straight in plan", of=STRINGER, shapes=WHOLE),
    Key("rivet_row", "tables", "a row of rivets", of=RIVET_ROW, shapes=WHOLE),
    Key("lap", "tables", "an overlap; its hidden area is listed apart", of=LAP, shapes=WHOLE),
    Key("opening", "tables", "a hole in the skin, taken off the area", of=OPENING),
    Key(
        "lightening_hole",
        "tables",
        "a round hole in the web",
        of=ANY_HOLE,
        shapes=("rib", "spar web"),
    ),
    Key("panel", "tables", "names the sheet that a place is in", of=PANEL),
    Key("hinge_line", "table", "what a control surface turns about", of=HINGE, shapes=WHOLE),
)


def keys_of(shape: str, table: str = "") -> tuple[Key, ...]:
    """The keys a part of this shape may have at the top (table "") or in a table ("rib",
    "rib.lightening_hole"); empty where the shape has no such table."""
    keys = tuple(k for k in TOP if k.fits(shape))
    for name in table.split(".") if table else ():
        inner = [k for k in keys if k.name == name and k.of]
        keys = tuple(k for k in inner[0].of if k.fits(shape)) if inner else ()
    return keys


def tables_of(shape: str) -> tuple[str, ...]:
    """The tables a part of this shape may have; a table in a table as "rib.lightening_hole"."""
    names: list[str] = []
    for key in keys_of(shape):
        if key.of:
            names.append(key.name)
            names.extend(f"{key.name}.{k.name}" for k in key.of if k.of and k.fits(shape))
    return tuple(names)
