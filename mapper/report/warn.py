"""Which cautions stand on which page: those of the work that is recorded or advised there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from mapper.estimate.advice import advise
from mapper.estimate.cautions import Caution, cautions_for
from mapper.job.entry import Entry
from mapper.report.lookup import Sheet
from mapper.report.model import Block, Section, Warnings, Words
from mapper.surface.geometry import Geometry

FOR_ALL = "Cautions for all work on this job"


def warnings(groups: Iterable[tuple[Caution, ...]]) -> Warnings:
    """Several lists of cautions as one, each caution once, in order."""
    seen = {c.key: c for group in groups for c in group}
    return Warnings(tuple((c.text, c.source) for c in seen.values()))


def is_control_surface(geometry: Geometry) -> bool:
    """A part that hangs on a hinge has a balance."""
    return any(line.kind == "hinge line" for line in geometry.lines)


def general() -> tuple[Caution, ...]:
    """What holds for all stripping and all findings, whatever the sheet."""
    return tuple(
        dict.fromkeys(
            (
                *cautions_for(kind="coat zone"),
                *cautions_for(method="chemical"),
                *cautions_for(kind="finding"),
            )
        )
    )


@dataclass(frozen=True)
class Shared:
    """The cautions printed once, near the front, because they hold for all work on the job."""

    cautions: tuple[Caution, ...]

    def section(self) -> Section:
        """The section near the front."""
        return Section(FOR_ALL, 1, (warnings((self.cautions,)),))

    def beyond(
        self, cautions: Iterable[Caution], above: Iterable[Caution] = (), where: str = ""
    ) -> tuple[Block, ...]:
        """What stands on a page with these cautions: those that are not at the front, and where the
        others are, in one box so that no page begins with the end of it.

        above: those that stand on the first page of its part, named `where`."""
        there = set(above) - set(self.cautions)
        all_of_it = dict.fromkeys(cautions)
        more = tuple(c for c in all_of_it if c not in self.cautions and c not in there)
        pointer = f'Read first: "{FOR_ALL}", near the front.'
        if there & set(all_of_it):
            pointer = f'Read first: "{FOR_ALL}", near the front, and the cautions of {where}.'
        if not more:
            return (Words(pointer, "quiet"),)
        return (Warnings((*warnings((more,)).items, (pointer, ""))),)


def shared(pages: Iterable[tuple[Caution, ...]], also: Iterable[tuple[str, str]]) -> Shared:
    """What goes to the front: what holds for all work, what every page would repeat, and what of
    `also` (text and source, of the estimate) no page shows, so that none is lost."""
    pages = [page for page in pages if page]
    base = general()
    common = [c for c in (pages[0] if len(pages) > 1 else ()) if all(c in p for p in pages)]
    found = dict.fromkeys((*base, *common))
    texts = {c.text for c in found} | {c.text for page in pages for c in page}
    lost = [Caution(text, text, source) for text, source in also if text not in texts]
    return Shared((*found, *lost))


def of_part(geometry: Geometry | None, entries: Iterable[Entry]) -> tuple[Caution, ...]:
    """Cautions of a whole part: of the kinds of work on it, its bearings and its balance."""
    groups = [cautions_for(kind=kind) for kind in dict.fromkeys(e.kind for e in entries)]
    if geometry is not None:
        hinged = is_control_surface(geometry)
        bearings = geometry.bearings_inside
        groups.append(cautions_for(bearings_inside=bearings, control_surface=hinged))
    return tuple(dict.fromkeys(c for group in groups for c in group))


def often(pages: Iterable[tuple[Caution, ...]]) -> tuple[Caution, ...]:
    """The cautions that several of these pages have; () for fewer than two pages."""
    counts = Counter(c for page in pages for c in dict.fromkeys(page))
    return tuple(caution for caution, count in counts.items() if count > 1)


def of_sheet(sheet: Sheet, entries: Iterable[Entry], to_strip: bool) -> tuple[Caution, ...]:
    """Cautions of one panel: of the sheet, of what is recorded on it, and of the advised method
    where there is something to strip."""
    here = (p for p in sheet.geometry.panels if p.skin == sheet.skin.name and p.name == sheet.panel)
    panel = next(here, None)
    groups = [
        cautions_for(
            method=advise(panel).method if to_strip else "",
            panel=panel,
            bearings_inside=sheet.geometry.bearings_inside,
            control_surface=is_control_surface(sheet.geometry),
        )
    ]
    groups += [cautions_for(kind=kind) for kind in dict.fromkeys(e.kind for e in entries)]
    return tuple(dict.fromkeys(c for group in groups for c in group))
