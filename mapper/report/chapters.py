"""Puts a report together: numbers first, then drawings, then the sections in reading order."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from functools import partial
from importlib import import_module

from mapper.estimate.cautions import Caution
from mapper.estimate.regions import WHOLE
from mapper.job.book import Book
from mapper.job.records import Part
from mapper.report import closing, found, summary, warn, worth
from mapper.report.ahead import Ahead, Task
from mapper.report.baywords import bay_facts
from mapper.report.cache import Cache
from mapper.report.entries import in_full
from mapper.report.figures import Drawn, MapWish, photo_files
from mapper.report.lookup import UNPLACED, Lookup, Sheet
from mapper.report.model import Block, Document, Section, Words
from mapper.report.numbers import are_kept, part_numbers, place_of
from mapper.report.partpage import (
    PartContent,
    first_page,
    is_one_panel,
    whole_map,
    wholes_of,
)
from mapper.report.phrases import day
from mapper.report.pictures import NOT_ASKED, labels_in_pictures, render, wanted
from mapper.report.sheets import SheetContent, page_of
from mapper.report.smoothed import smoothed_maps
from mapper.report.unknown import unknown
from mapper.report.worth import worth_of
from mapper.units import Units

Progress = Callable[[str, int, int], None]
HEAD = 12  # letters of the hash in the footer; the whole stands on the first and last page


# What measuring and drawing load when they first need it.
LATE = (
    "pandas",
    "scipy.interpolate",
    "scipy.special",
    "mapper.drawing.scene",
    "mapper.drawing.svg",
)


def load() -> None:
    """Loads that before a helper is split off, so that it is not loaded by both."""
    for name in LATE:
        import_module(name)


class Chapters:
    """One report in the making. left_out: sentences about what it lacks, known after `document`."""

    def __init__(
        self, book: Book, cache: Cache, pictures: bool, step: Progress, when: datetime
    ) -> None:
        self.book, self.cache, self.step, self.when = book, cache, step, when
        self.lookup = Lookup(book)
        self.units = Units(book.shop.units)
        self.with_pictures = pictures
        self.left_out: tuple[str, ...] = ()

    def document(self) -> Document:
        """Everything but the section about the copy itself. The lines to sign come last: what is
        signed for lies before them."""
        lookup, units = self.lookup, self.units
        self._gather()
        pages = [self._cautions(sheet) for sheets in self.used.values() for sheet in sheets]
        self.front = warn.shared(pages, self.worth.cautions())
        assemblies = self._assemblies()
        job = self.book.job
        head = self.book.head[:HEAD] or "no history"
        return Document(
            title=job.name or "A job without a name",
            subtitle=" · ".join(w for w in (job.airframe, f"report of {day(self.when)}") if w),
            cover=summary.cover(lookup, self.numbers, self.worth, self.when),
            sections=(
                self.front.section(),
                summary.parts(lookup, self.numbers, units),
                unknown(lookup, self.numbers, units, self.worth, self.left_out),
                self.worth.section(lookup),
                *assemblies,
                closing.to_complete(lookup),
                closing.materials(lookup, units),
                in_full(lookup, units),
                closing.sign_off(lookup, self.when),
            ),
            footer=f"{job.name} · {day(self.when)} · history {head}",
            author=self.book.shop.name,
        )

    def _gather(self) -> None:
        """All numbers, photos and pictures; nothing is drawn twice."""
        book, cache, lookup = self.book, self.cache, self.lookup
        self.used = self._used()
        self.wholes = {p.id: wholes_of(p, lookup, self.used[p.id]) for p in book.parts}
        new = [p for p in book.parts if not are_kept(book, p, lookup, cache)]
        tasks = self._measuring(new)
        kept = len(book.parts) - len(new)
        steps = kept + len(tasks)
        if len(tasks) > 1:
            load()
        # Pictures are rendered here while a helper measures what is new.
        with Ahead(tasks, lambda n, _: self.step("measuring", kept + n, steps)) as ahead:
            self._photos()
            self._render(ahead.look)
            ahead.finish()
        self.numbers = {part.id: part_numbers(book, part, lookup, cache) for part in book.parts}
        self.bays = bay_facts(book, cache)
        self.worth = worth_of(book, self.units, cache)

    def _measuring(self, parts: Iterable[Part]) -> list[Task]:
        """What a helper can do while pictures are rendered: parts with most entries first."""
        # Shapes are read here: a helper has no business with the store.
        shaped = [part for part in parts if self.lookup.geometry(part) is not None]
        shaped.sort(key=lambda part: -len(self.lookup.entries(part)))
        smoothed = (
            partial(smoothed_maps, part, self.lookup, self.units, self.cache) for part in shaped
        )
        return [*(partial(self._measure, part) for part in shaped), *smoothed]

    def _measure(self, part: Part) -> None:
        # One task: all of it rests on the same pieces, which are cut once.
        part_numbers(self.book, part, self.lookup, self.cache)
        worth.ahead(self.book, part, self.units, self.cache)
        for sheet in self._drawn_of(part):
            self._map_of(sheet).drawn(self.cache)

    def _render(self, look: Callable[[], None]) -> None:
        self.pictures: dict[tuple[str, int, str, str], Drawn] = {}
        if not self.with_pictures:
            self.left_out += (NOT_ASKED,)
            return

        def rendered(done: int, total: int) -> None:
            self.step("pictures", done, total)
            look()

        wishes = wanted(self.lookup)
        if wishes:
            labels = labels_in_pictures(self.lookup)
            self.pictures, lost = render(wishes, labels, self.units.system, self.cache, rendered)
            self.left_out += lost

    def _photos(self) -> None:
        uses = dict.fromkeys(use.photo_id for e in self.book.entries for use in e.photos)
        done = 0

        def one() -> None:
            nonlocal done
            done += 1
            self.step("photos", done, len(uses))

        self.photos, lost = photo_files(self.book, uses, self.cache, one)
        self.left_out += lost

    def _used(self) -> dict[str, tuple[Sheet, ...]]:
        """The panels and faces with a page of their own, by part: those with something recorded."""
        lookup = self.lookup
        return {
            part.id: tuple(
                sheet
                for sheet in lookup.sheets(part)
                if lookup.on_sheet(sheet, lookup.entries(part))
            )
            for part in self.book.parts
        }

    def _cautions(self, sheet: Sheet) -> tuple[Caution, ...]:
        entries = self.lookup.on_sheet(sheet, self.lookup.entries(sheet.part))
        return warn.of_sheet(sheet, entries, bool(self.worth.of_sheet(sheet)))

    def _of_part(self, part: Part) -> tuple[Caution, ...]:
        """What stands on a part's first page: its own, and what several of its pages have."""
        own = warn.of_part(self.lookup.geometry(part), self.lookup.entries(part))
        pages = [self._cautions(sheet) for sheet in self.used[part.id]]
        return tuple(dict.fromkeys((*own, *warn.often(pages))))

    def _on_page(self, sheet: Sheet) -> tuple[Block, ...]:
        """The cautions of a panel's page."""
        mine, all_ = self._cautions(sheet), self._of_part(sheet.part)
        if len(self.used[sheet.part.id]) == 1 and is_one_panel(self.numbers[sheet.part.id]):
            return self.front.beyond((*mine, *all_))
        return self.front.beyond(mine, all_, sheet.part.name)

    def _map_of(self, sheet: Sheet) -> MapWish:
        entries = self.lookup.entries(sheet.part)
        return MapWish(
            sheet,
            entries,
            self.lookup.number,
            self.units.system,
            legend=sheet.panel == WHOLE or not self._has_whole(sheet),
            numbered=self.lookup.on_sheet(sheet, entries),
        )

    def _has_whole(self, sheet: Sheet) -> bool:
        """Whether the part's first page has a map of all that skin."""
        return any(whole.skin is sheet.skin for whole in self.wholes[sheet.part.id])

    def _drawn_of(self, part: Part) -> tuple[Sheet, ...]:
        """What has a map of its own: whole skins, then panels."""
        return (*self.wholes[part.id], *self.used[part.id])

    def _map(self, sheet: Sheet) -> Drawn:
        return self.maps[sheet].drawn(self.cache)

    def _draw(self, sheets: Iterable[Sheet]) -> None:
        """Draws the maps that are not there yet; a helper draws every other one."""
        self.maps = {sheet: self._map_of(sheet) for sheet in sheets}
        new = [wish for wish in self.maps.values() if not wish.is_kept(self.cache)]
        kept = len(self.maps) - len(new)
        tasks = [partial(wish.drawn, self.cache) for wish in new]
        with Ahead(tasks, lambda n, _: self.step("pages", kept + n, len(self.maps))) as ahead:
            ahead.finish()

    def _assemblies(self) -> list[Section]:
        self._draw(sheet for part in self.book.parts for sheet in self._drawn_of(part))
        sections = []
        for assembly, parts in self.lookup.assemblies():
            name = assembly.name if assembly else UNPLACED
            words = "" if parts else "No part of it is recorded yet."
            # A first part that fits under its assembly's heading shares the page with it.
            small = bool(parts) and is_one_panel(self.numbers[parts[0].id])
            gap = (Words(words, "gap"),) if words else ()
            sections.append(Section(name, 1, gap, bool(parts), together=small))
            for i, part in enumerate(parts):
                made = self._part(part, together=small or i > 0)
                sections.append(replace(made, joins=small and i == 0))
                sections += [self._sheet(sheet) for sheet in self.used[part.id]]
        return sections

    def _part(self, part: Part, together: bool) -> Section:
        lookup, units = self.lookup, self.units
        numbers = self.numbers[part.id]
        wholes = self.wholes[part.id]
        # Of a part that is told on one page more, that page has the estimate and the cautions.
        told_below = is_one_panel(numbers) and len(self.used[part.id]) == 1
        content = PartContent(
            part,
            numbers,
            tuple(d for key, d in self.pictures.items() if key[0] == part.id and not key[2]),
            tuple(whole_map(self._map(sheet), i == 0) for i, sheet in enumerate(wholes)),
            frozenset(s.where for s in self.used[part.id]),
            () if told_below else self.worth.of_part(part.id),
            () if told_below else self.front.beyond(self._of_part(part)),
            smoothed_maps(part, lookup, units, self.cache),
            self.bays[part.id],
        )
        return first_page(content, self.photos, units, lookup, together)

    def _sheet(self, sheet: Sheet) -> Section:
        lookup, units = self.lookup, self.units
        numbers = self.numbers[sheet.part.id]
        entries = lookup.on_sheet(sheet, lookup.entries(sheet.part))
        face = sheet.skin.face_names.index(sheet.face)
        # Not looked at, gauge and alloy stand among the facts already.
        gaps = tuple(
            gap["text"]
            for gap in self.worth.gaps(sheet.part.id)
            if (gap["skin"], gap["panel"], gap["face"]) == sheet.where
            and gap["topic"] not in ("inspection", "gauge", "alloy")
        )
        content = SheetContent(
            sheet,
            entries,
            self._map(sheet),
            self._has_whole(sheet),
            self.pictures.get((sheet.part.id, face, sheet.skin.name, sheet.panel)),
            numbers.done(sheet),
            tuple(row for row in numbers.methods if place_of(row) == sheet.where),
            found.words(numbers.found(sheet), units),
            self.worth.of_sheet(sheet),
            gaps,
            self._on_page(sheet),
            joins=is_one_panel(numbers),
        )
        return page_of(content, self.photos, units, lookup)
