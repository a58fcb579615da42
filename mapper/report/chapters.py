"""Puts a report together: numbers first, then drawings, then the sections in reading order."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from mapper.job.book import Book
from mapper.job.records import Part
from mapper.report import closing, found, summary, warn
from mapper.report.cache import Cache
from mapper.report.figures import Drawn, map_of, photo_files
from mapper.report.lookup import UNPLACED, Lookup, Sheet
from mapper.report.model import Document, Section, Words
from mapper.report.numbers import PartNumbers, part_numbers
from mapper.report.partpage import PartContent, first_page
from mapper.report.phrases import day
from mapper.report.pictures import NOT_ASKED, render, wanted
from mapper.report.sheets import SheetContent, page_of
from mapper.report.unknown import unknown
from mapper.report.worth import worth_of
from mapper.units import Units

Progress = Callable[[str, int, int], None]
HEAD = 12  # letters of the hash in the footer; the whole stands on the first and last page


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
        """Everything but the section about the copy itself."""
        lookup, units = self.lookup, self.units
        self._gather()
        assemblies = self._assemblies()
        job = self.book.job
        head = self.book.head[:HEAD] or "no history"
        return Document(
            title=job.name or "A job without a name",
            subtitle=" · ".join(w for w in (job.airframe, f"report of {day(self.when)}") if w),
            cover=summary.cover(lookup, self.numbers, self.when),
            sections=(
                summary.parts(lookup, self.numbers, units),
                unknown(lookup, self.numbers, units, self.worth, self.left_out),
                self.worth.section(),
                *assemblies,
                closing.to_complete(lookup),
                closing.materials(lookup, units),
                closing.sign_off(lookup),
            ),
            footer=f"{job.name} · {day(self.when)} · history {head}",
            author=self.book.shop.name,
        )

    def _gather(self) -> None:
        """All numbers, photos and pictures; nothing is drawn twice."""
        book, cache = self.book, self.cache
        steps = len(book.parts) + 1
        self.step("measuring", 0, steps)
        self.numbers: dict[str, PartNumbers] = {}
        for i, part in enumerate(book.parts, 1):
            self.numbers[part.id] = part_numbers(book, part, self.lookup, cache)
            self.step("measuring", i, steps)
        self.worth = worth_of(book, self.units, cache)
        self.step("measuring", steps, steps)
        self._photos()
        self.pictures: dict[tuple[str, int, str, str], Drawn] = {}
        wishes = wanted(self.lookup)
        if not self.with_pictures:
            self.left_out += (NOT_ASKED,)
        elif wishes:
            self.pictures, lost = render(
                wishes,
                self.lookup.number,
                self.units.system,
                cache,
                lambda done, total: self.step("pictures", done, total),
            )
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

    def _assemblies(self) -> list[Section]:
        sheets = {part.id: self.lookup.sheets(part) for part in self.book.parts}
        self.pages, self.page = sum(len(s) for s in sheets.values()), 0
        self.step("pages", 0, self.pages)
        sections = []
        for assembly, parts in self.lookup.assemblies():
            name = assembly.name if assembly else UNPLACED
            words = "" if parts else "No part of it is recorded yet."
            sections.append(Section(name, 1, (Words(words, "gap"),) if words else (), bool(parts)))
            for i, part in enumerate(parts):
                sections.append(self._part(part, new_page=i > 0))
                sections += [self._sheet(sheet) for sheet in sheets[part.id]]
        return sections

    def _part(self, part: Part, new_page: bool) -> Section:
        lookup, units = self.lookup, self.units
        numbers = self.numbers[part.id]
        content = PartContent(
            part,
            numbers,
            tuple(d for key, d in self.pictures.items() if key[0] == part.id and not key[2]),
            found.table(numbers, units),
            self.worth.of_part(part.id),
            warn.of_part(lookup.geometry(part), lookup.entries(part)),
        )
        return first_page(content, self.photos, units, lookup, new_page)

    def _sheet(self, sheet: Sheet) -> Section:
        lookup, units = self.lookup, self.units
        numbers = self.numbers[sheet.part.id]
        all_entries = lookup.entries(sheet.part)
        entries = lookup.on_sheet(sheet, all_entries)
        face = sheet.skin.face_names.index(sheet.face)
        where = (sheet.skin.name, sheet.panel, sheet.face)
        gaps = tuple(
            f"{gap['text']} {gap['to_do']}"
            for gap in self.worth.gaps(sheet.part.id)
            if (gap["skin"], gap["panel"], gap["face"]) == where
        )
        takes = self.worth.of_sheet(sheet)
        content = SheetContent(
            sheet,
            entries,
            map_of(sheet, all_entries, lookup.number, units.system, self.cache),
            self.pictures.get((sheet.part.id, face, sheet.skin.name, sheet.panel)),
            numbers.done(sheet),
            found.words(numbers.found(sheet), units),
            takes,
            gaps,
            warn.of_sheet(sheet, entries, bool(takes)),
        )
        self.page += 1
        self.step("pages", self.page, self.pages)
        return page_of(content, self.photos, units, lookup)
