"""The smoothed maps of findings on a part's page: a figure for each skin and face with findings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from mapper.corrosion import mapwords
from mapper.corrosion.smoothed import Smoothed, faces_with_findings, smoothed_findings
from mapper.job.plain import to_plain
from mapper.job.records import Part
from mapper.late import Late
from mapper.report.cache import Cache, key_of
from mapper.report.figures import numbers_key
from mapper.report.lookup import Lookup
from mapper.report.model import Beside, Block, Figure, Words
from mapper.surface.geometry import Geometry
from mapper.units import Units

# Drawing brings matplotlib, which most reports of a job already drawn do without.
if TYPE_CHECKING:
    from mapper.drawing import smoothed, svg
else:
    smoothed, svg = Late("mapper.drawing.smoothed"), Late("mapper.drawing.svg")

WIDTH, HEIGHT = 174.0, 80.0  # mm on paper: of the text, and of the sheet alone
MOST_HIGH = 125.0
LEAST = 3  # findings on a face: one or two are no pattern, and their map would only look like one
NARROW = 0.6  # of the text: words stand beside a map no wider than that


def smoothed_maps(part: Part, lookup: Lookup, units: Units, cache: Cache) -> tuple[Block, ...]:
    """What a part's page shows of where its findings lie close; () for a part without LEAST
    findings in an inspected area of one face, or without a shape.

    A face all in one step has no figure: the words say that no place is told from another.
    """
    geometry = lookup.geometry(part)
    if geometry is None:
        return ()
    book = lookup.book
    record = (
        part.geometry, part.name, to_plain(part), dict(book.shop.settings), units.system,
        numbers_key(lookup.entries(part)), [to_plain(i) for i in book.items],
        [to_plain(p) for p in book.positions if p.part_id == part.id],
    )  # fmt: skip
    faces = cache.value(
        key_of("faces with findings", LEAST, *record),
        lambda: faces_with_findings(book, part.id, LEAST),
    )
    blocks: list[Block] = []
    how = ""
    for skin, face in faces:
        made, how = _of_face(part, geometry, skin, face, lookup, units, cache, record)
        blocks += made
    if blocks:
        blocks.append(Words(f"How these maps are made. {how}", "quiet"))
    return tuple(blocks)


def _of_face(
    part: Part,
    geometry: Geometry,
    skin: str,
    face: str,
    lookup: Lookup,
    units: Units,
    cache: Cache,
    record: tuple[object, ...],
) -> tuple[list[Block], str]:
    """The figure and the words of one face, and how such maps are made."""
    key = key_of("smoothed map", skin, face, *record)
    made: list[Smoothed] = []

    def worked_out() -> Smoothed:
        if not made:
            made.append(smoothed_findings(lookup.book, part.id, skin, face))
        return made[0]

    def made_words() -> dict[str, object]:
        one = worked_out()
        steps = len(one.bands)
        drawing = smoothed.draw_smoothed(
            geometry, one, units=units, title=f"{part.name}: {skin}", width=WIDTH, height=HEIGHT
        )
        return {
            "steps": steps,
            "alt": drawing.description,
            "words": " ".join(mapwords.told(one, units)),
            "how": " ".join(mapwords.how(one, units)),
            "share": drawing.paper[0] * min(1.0, MOST_HIGH / drawing.paper[1]) / WIDTH,
            "svg": svg.to_svg(drawing) if steps > 1 else "",
        }

    told = cache.value(key, made_words)
    label = f"Where findings lie close on the {face} face of {skin}"
    words = Words(f"{label}. {told['words']}")
    if told["steps"] < 2:
        return [words], told["how"]
    file = cache.file(key, ".svg", lambda out: out.write_text(told["svg"], "utf-8"))
    if told["share"] <= NARROW:
        figure = Figure(file, told["alt"], "", width=told["share"], height_mm=MOST_HIGH)
        return [Beside(figure, (words,))], told["how"]
    return [Figure(file, told["alt"], "", height_mm=MOST_HIGH), words], told["how"]
