"""What goes over the wire, as the server checks it: the same names as `page/src/wire.ts`.

Lengths are mm, areas mm2, flat coordinates mm on the flat map of a skin. Numbers are finite and
lists have ends: a body that is not of this form is refused before anything looks at it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, Field, StringConstraints, ValidationError, WrapValidator

from mapper.viewer.server.drawn import Id, Length, Line, Text, Where, Wire

MOST_STEPS = 50
MOST_ITEMS = 20_000  # of one outbox file


UnitsName = Literal["metric", "inch"]
# Device clock minus server clock, as last compared on the device; null where it never was.
ClockOffset = Annotated[float, Field(allow_inf_nan=False, ge=-1e13, le=1e13)] | None


class PersonView(Wire):
    id: str
    name: str


class JobView(Wire):
    id: str
    name: str
    airframe: str
    owner: str


class ShopView(Wire):
    id: str
    name: str
    units: UnitsName


class Start(Wire):
    shop: ShopView
    people: list[PersonView]
    jobs: list[JobView]
    token: str
    server_time: str
    build: str
    photo_bytes_most: int
    body_bytes_most: int


FieldType = Literal[
    "text",
    "choice",
    "number",
    "measured",
    "date",
    "time",
    "yes/no",
    "records",
    "reference",
    "shape",
]


class FieldView(Wire):
    name: str
    label: str
    type: FieldType
    unit: str
    choices: list[str]
    least: float | None
    most: float | None
    of: list[FieldView]
    refers_to: str
    expected: bool
    help: str
    whole: bool
    only_if: list[str]
    unless: list[str]
    computed: bool


class CautionView(Wire):
    text: str
    source: str


class KindView(Wire):
    name: str
    plural: str
    help: str
    regions: list[Literal["area", "line", "point", "place"]]
    style: str
    fields: list[FieldView]
    cautions: list[CautionView] = Field(default_factory=list)


class UnitView(Wire):
    """label and factor: a number inside the program times `factor` is one in `label`; digits:
    significant digits to show."""

    label: str
    factor: float
    digits: int


class Fields(Wire):
    kinds: list[KindView]
    states: list[str]
    units: dict[str, UnitView]


class PartView(Wire):
    id: str
    name: str
    code: str
    assembly_id: str
    note: str
    shape: str
    mirror_id: str
    removed: bool
    kept_at: str
    area_mm2: float
    tolerance_percent: float
    faces_mm2: float
    stripped_mm2: float
    inspected_mm2: float
    open_findings: int
    inner: bool


class OutlineView(Wire):
    skin: str
    face: str
    region: Literal["area", "line", "point"]
    shape: str
    polygons: list[list[list[tuple[float, float]]]]
    area_mm2: float
    area_words: str


class PhotoUseView(Wire):
    photo_id: str
    caption: str
    mm_per_pixel: float | None
    href: str


class EntryView(Wire):
    id: str
    part_id: str
    kind: str
    version: int
    state: str
    deferred_to: str | None
    note: str
    by: str
    by_name: str
    device_time: str
    server_time: str | None
    outline: OutlineView | None
    place: str
    where: str
    title: str
    told: dict[str, str]
    typed: dict[str, str]
    missing: list[str]
    photos: list[PhotoUseView]
    unconfirmed: bool
    doubt: str = ""
    clock: str = ""


class NamedView(Wire):
    id: str
    name: str


class ReferenceView(Wire):
    id: str
    words: str


class BookView(Wire):
    job: JobView
    assemblies: list[NamedView]
    parts: list[PartView]
    entries: list[EntryView]
    references: dict[str, list[ReferenceView]]
    seq: int
    head: str


class Changes(Wire):
    seq: int
    head: str
    entries: list[EntryView]
    parts: list[PartView]
    removed: list[str]
    people: list[PersonView]
    again: bool


class PhotoUseGiven(Wire):
    photo_id: Id
    caption: Line
    mm_per_pixel: Length | None


class EntryGiven(Wire):
    id: Id
    part_id: Id
    kind: Line
    version: Annotated[int, Field(ge=0, le=10**9)]
    where: Where | None
    place: Line
    values: Annotated[dict[Line, Text], Field(max_length=200)]
    state: Line
    deferred_to: date | None
    note: Text
    photos: Annotated[list[PhotoUseGiven], Field(max_length=200)]
    confirmed: bool = False


class Step(Wire):
    op: Literal["add", "change", "remove"]
    entry: EntryGiven


class ActionGiven(Wire):
    id: Id
    by: Id
    words: Annotated[str, StringConstraints(min_length=1, max_length=500)]
    device_time: AwareDatetime
    clock_offset_ms: ClockOffset
    units: UnitsName
    steps: Annotated[list[Step], Field(min_length=1, max_length=MOST_STEPS)]


class UndoGiven(Wire):
    id: Id
    by: Id
    device_time: AwareDatetime
    clock_offset_ms: ClockOffset = None
    of: Id | Literal[""] = ""


class PersonGiven(Wire):
    """POST /api/people: somebody who records. The same id again is harmless."""

    id: Id
    name: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    device_time: AwareDatetime | Literal[""] = ""
    clock_offset_ms: ClockOffset = None


class Answer(Wire):
    action_id: str
    status: Literal["stored", "repeated"]
    changes: Changes
    notes: list[str]


class PhotoAnswer(Wire):
    photo_id: str
    href: str
    width: int
    height: int
    notes: list[str]


class MeasureGiven(Wire):
    part_id: Id
    where: Where


class MeasureAnswer(Wire):
    outline: OutlineView
    where: str
    near: str


class Refusal(Wire):
    code: Literal["stale", "refused", "unknown", "foreign", "too large", "busy"]
    message: str
    theirs: EntryView | None = None


class ActionItem(Wire):
    type: Literal["action"]
    action: ActionGiven
    job_id: Id | Literal[""] = ""


class UndoItem(Wire):
    type: Literal["undo", "redo"]
    asked: UndoGiven
    job_id: Id | Literal[""] = ""


class PersonItem(Wire):
    type: Literal["person"]
    person: PersonGiven
    job_id: Id | Literal[""] = ""


class PhotoItem(Wire):
    type: Literal["photo"]
    id: Id
    by: Id
    taken: datetime | Literal[""]
    media_type: Line
    data: str
    device_time: AwareDatetime | Literal[""] = ""
    clock_offset_ms: ClockOffset = None
    job_id: Id | Literal[""] = ""


class Unreadable:
    """An item of a file that is not as agreed: refused for itself. id: its own, as far as it has
    one; words: what is wrong."""

    def __init__(self, given: Any, error: ValidationError) -> None:
        found = given if isinstance(given, dict) else {}
        inner = next((found[k] for k in ("action", "asked", "person") if k in found), found)
        key = inner.get("id") if isinstance(inner, dict) else None
        self.id = key[:64] if isinstance(key, str) else ""
        wrong = error.errors(include_url=False, include_input=False)
        told = [f"{'.'.join(map(str, e['loc']))[:120] or 'item'}: {e['msg'][:200]}" for e in wrong]
        more = f", and {len(told) - 4} more" if len(told) > 4 else ""
        self.words = f"It is not as agreed ({'; '.join(told[:4])}{more})."


def _alone(given: Any, handler: Callable[[Any], Any]) -> Any:
    # What is wrong with one item keeps none of the others back.
    try:
        return handler(given)
    except ValidationError as error:
        return Unreadable(given, error)


OutboxItem = Annotated[ActionItem | UndoItem | PersonItem | PhotoItem, Field(discriminator="type")]


class OutboxFile(Wire):
    format: Literal["airframe map outbox 1"]
    job_id: Id | Literal[""]
    made: Line
    items: Annotated[
        list[Annotated[OutboxItem, WrapValidator(_alone)]], Field(max_length=MOST_ITEMS)
    ]


class OutboxResult(Wire):
    id: str
    status: Literal["stored", "repeated", "refused"]
    message: str


class OutboxAnswer(Wire):
    results: list[OutboxResult]
