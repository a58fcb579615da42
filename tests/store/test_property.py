"""Whatever people do in whatever order: the chain stays whole, and redo is exact."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle as Pool
from hypothesis.stateful import (
    RuleBasedStateMachine,
    consumes,
    initialize,
    invariant,
    multiple,
    rule,
)

from mapper.job.entry import Entry
from mapper.job.plain import to_plain
from mapper.job.records import Lot, Person
from mapper.store.errors import Refused, UndoRefused
from mapper.store.shop import Store
from tests.store.makers import ANN, BEN, entry, new_shop

CYD = "person-cyd"
PEOPLE = st.sampled_from((BEN, CYD))  # Ann set the shop up, and is not asked to undo that
# In memory where there is such a folder: what is tested here is order, not the disk.
MEMORY = Path("/dev/shm") if Path("/dev/shm").is_dir() else None
TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=8)


class Shop(RuleBasedStateMachine):
    """Two people at work; `said` is what the entries must say, kept apart from the store."""

    entries = Pool("entries")

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp(dir=MEMORY))
        self.store: Store = new_shop(self.folder / "shop")
        with self.store.act(ANN, "hire") as action:
            action.add(Person(CYD, "Cyd"))
        self.said: dict[str, str] = {}
        self.heads: list[str] = [self.store.head()]
        self.made = 0

    def teardown(self) -> None:
        if hasattr(self, "store"):
            verdict = self.store.verify(self.heads[0])
            assert verdict.sound, verdict.problems
            self.store.close()
            shutil.rmtree(self.folder)

    def everything(self) -> dict[str, object]:
        book = self.store.book("job-1")
        records = (*book.entries, *book.lots)
        return {record.id: to_plain(record) | {"version": 0} for record in records}

    @rule(target=entries, by=PEOPLE, texts=st.lists(TEXTS, min_size=1, max_size=3))
    def add(self, by: str, texts: list[str]) -> object:
        keys = []
        with self.store.act(by, "add") as action:
            for text in texts:
                self.made += 1
                keys.append(f"e{self.made}")
                action.add(entry(keys[-1], note=text))
                self.said[keys[-1]] = text
            lot = action.add(Lot(f"l{self.made}", "Stripper", f"{self.made}"))
            values = {"lot": lot.id}
            action.add(entry(f"a{self.made}", kind="application", values=values))
            self.said[f"a{self.made}"] = ""
        return multiple(*keys)

    @rule(by=PEOPLE, key=entries, text=TEXTS)
    def change(self, by: str, key: str, text: str) -> None:
        found = self.store.find(Entry, key)
        assert (found is not None) == (key in self.said)
        if found is not None:
            assert found.note == self.said[key]
            with self.store.act(by, "note") as action:
                action.change(replace(found, note=text))
            self.said[key] = text

    @rule(by=PEOPLE, key=consumes(entries))
    def remove(self, by: str, key: str) -> None:
        found = self.store.find(Entry, key)
        if found is not None:
            with self.store.act(by, "remove") as action:
                action.remove(found)
            del self.said[key]

    @rule(by=PEOPLE)
    def undo_then_redo_is_exact(self, by: str) -> None:
        before = self.everything()
        try:
            self.store.undo(by)
        except (UndoRefused, Refused):
            assert self.everything() == before
            return
        between = self.everything()
        self.store.redo(by)
        assert self.everything() == before
        self.store.undo(by)
        assert self.everything() == between
        self._listen()

    @rule(by=PEOPLE)
    def redo(self, by: str) -> None:
        before = self.everything()
        try:
            self.store.redo(by)
        except (UndoRefused, Refused):
            assert self.everything() == before
        self._listen()

    def _listen(self) -> None:
        notes = {e.id: e.note for e in self.store.book("job-1").entries}
        self.said = dict(notes)

    @invariant()
    def the_chain_only_grows(self) -> None:
        if hasattr(self, "store"):
            head = self.store.head()
            if head != self.heads[-1]:
                self.heads.append(head)
            notes = {e.id: e.note for e in self.store.book("job-1").entries}
            assert notes == self.said


TestShop = Shop.TestCase
TestShop.settings = settings(
    max_examples=12,
    stateful_step_count=14,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
