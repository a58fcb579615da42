"""The server's models against the page's own types (`page/src/wire.ts`), and against what it says
of itself (OpenAPI): names, what may be left out, what may be null, lists, choices."""

from __future__ import annotations

import re
import types
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin

import jsonschema
import pytest
from pydantic import AwareDatetime, BaseModel
from pydantic.fields import FieldInfo

import mapper.viewer
from mapper.job.fields import FIELD_TYPES
from mapper.viewer.server import drawn, models
from tests.viewer.server.conftest import picture
from tests.viewer.server.talk import ANN, COVER, JOB, RIGHT, action, entry, stroke, undo, where

WIRE = Path(mapper.viewer.__file__).parent / "page" / "src" / "wire.ts"
# Types of the wire that are plain, or read by the page from bytes.
PLAIN = {"Id", "Flat", "ArrayAt", "SkinHeader", "ShapeHeader"}


def interfaces() -> dict[str, dict[str, tuple[bool, str]]]:
    """Of each interface of wire.ts: name -> (may be left out, type as written)."""
    text = re.sub(r"/\*.*?\*/|//[^\n]*", "", WIRE.read_text("utf-8"), flags=re.S)
    found = {}
    for name, body in re.findall(r"export interface (\w+) \{(.*?)\n\}", text, flags=re.S):
        found[name] = dict(_members(body))
    return found


def _members(body: str) -> Any:
    """(name, (may be left out, type)) of the members of a `{...}`; types may hold braces."""
    depth, part = 0, ""
    for sign in body + ";":
        depth += {"{": 1, "[": 1, "(": 1, "}": -1, "]": -1, ")": -1}.get(sign, 0)
        if sign == ";" and depth == 0:
            if match := re.fullmatch(r"\s*(\w+)(\??):\s*(.*?)\s*", part, flags=re.S):
                yield match[1], (bool(match[2]), " ".join(match[3].split()))
            part = ""
        else:
            part += sign


def shape_types() -> dict[str, dict[str, tuple[bool, str]]]:
    """Of each piece of `Shape`: its type word -> its members."""
    text = re.sub(r"/\*.*?\*/|//[^\n]*", "", WIRE.read_text("utf-8"), flags=re.S)
    body = re.search(r'export type Shape = \{ op: "add" \| "wipe" \} & \((.*?)\n\);', text, re.S)[1]  # type: ignore[index]
    rows = [dict(_members(part)) for part in re.findall(r"\{(.*?)\}", body, flags=re.S)]
    return {row["type"][1].strip('"'): row for row in rows}


def model_of(name: str) -> Any:
    return getattr(models, name, None) or getattr(drawn, name)


INTERFACES = interfaces()


def test_every_type_of_the_wire_has_its_model_and_the_other_way_round() -> None:
    ours = {
        name
        for room in (models, drawn)
        for name, cls in vars(room).items()
        if isinstance(cls, type) and issubclass(cls, BaseModel) and cls.__module__ == room.__name__
    }
    # What wire.ts writes out where it is used, has a name of its own here.
    inside = {
        "Wire", "ShopView", "UnitView", "NamedView", "ReferenceView", "PhotoUseGiven", "Step",
        "ActionItem", "PhotoItem", "PersonItem", "UndoItem", "OutboxResult", "CautionView",
    }  # fmt: skip
    shapes = {name for name in ours if name.endswith("Shape")}
    assert set(INTERFACES) - PLAIN == ours - inside - shapes
    assert len(INTERFACES) > 20


def plainly(kind: Any) -> tuple[str, bool]:
    """(sort, may be null) of a model's type: text, number, yes/no, list, table, one of ..."""
    kind = getattr(kind, "__value__", kind)
    if get_origin(kind) in (Union, types.UnionType):
        rest = [a for a in get_args(kind) if a is not type(None)]
        return plainly(rest[0])[0], len(rest) < len(get_args(kind))
    if get_origin(kind) is Literal:
        return " | ".join(f'"{word}"' for word in get_args(kind)), False
    if hasattr(kind, "__metadata__"):
        return plainly(kind.__origin__)
    if get_origin(kind) in (list, tuple):
        return "list", False
    if get_origin(kind) is dict:
        return "table", False
    if isinstance(kind, type) and issubclass(kind, bool):
        return "boolean", False
    if isinstance(kind, type) and issubclass(kind, int | float):
        return "number", False
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return "object", False
    return "string", False


def as_written(kind: str) -> tuple[str, bool]:
    """The same of a type as wire.ts writes it."""
    null = kind.endswith("| null")
    kind = kind.removesuffix("| null").strip()
    if kind.endswith("[]") or kind.startswith("[") or kind == "Flat":
        return "list", null
    if kind.startswith("Record<"):
        return "table", null
    if kind.startswith('"'):
        return kind, null
    if kind in ("string", "Id"):
        return "string", null
    if kind in ("number", "boolean"):
        return kind, null
    named = {"FieldType": "FieldType", "Region": "string"}
    return named.get(kind, "object"), null


@pytest.mark.parametrize("name", sorted(set(INTERFACES) - PLAIN))
def test_a_model_has_the_names_and_sorts_of_the_wire(name: str) -> None:
    compare(model_of(name).model_fields, INTERFACES[name], name)


@pytest.mark.parametrize("word", sorted(shape_types()))
def test_a_piece_drawn_has_the_names_and_sorts_of_the_wire(word: str) -> None:
    written = {**shape_types()[word], "op": (False, '"add" | "wipe"')}
    compare(model_of(f"{word.capitalize()}Shape").model_fields, written, word)


def compare(fields: dict[str, FieldInfo], written: Any, name: str) -> None:
    assert set(fields) == set(written), name
    for key, (left_out, kind) in written.items():
        info = fields[key]
        sort, null = plainly(info.annotation)
        wanted, may_be_null = as_written(kind)
        if wanted == "FieldType":
            assert set(sort.split(" | ")) == set(field_types())
            continue
        if '"' in wanted:
            assert set(sort.split(" | ")) == set(wanted.split(" | ")), f"{name}.{key}"
        else:
            assert sort == wanted, f"{name}.{key}"
        assert null == may_be_null, f"{name}.{key} may be null"
        # What the page may leave out has a default here.
        assert left_out == (not info.is_required()), f"{name}.{key} may be left out"


def field_types() -> list[str]:
    text = WIRE.read_text("utf-8")
    return re.findall(r'"[^"]+"', re.search(r"export type FieldType =(.*?);", text, re.S)[1])  # type: ignore[index]


def test_times_of_a_device_carry_their_offset() -> None:
    assert models.ActionGiven.model_fields["device_time"].annotation is AwareDatetime


# -- what the server says of itself


@pytest.fixture
def told(page: Any) -> Any:
    got = page.get("/api/openapi.json")
    assert got.status_code == 200
    return got.json()


def asked(page: Any) -> list[tuple[str, str, Any]]:
    """(method and path as described, status, answer) of one request to every address."""
    got: list[tuple[str, str, Any]] = []

    def note(method: str, described: str, response: Any) -> Any:
        got.append((f"{method} {described}", str(response.status_code), response))
        return response

    job = f"/api/jobs/{JOB}"
    said = entry(where=where(stroke((600, 300))), kind="inspected area", values={})
    post = {"headers": {"content-type": "image/jpeg"}}
    note("get", "/api/start", page.get("/api/start"))
    note("get", "/api/fields", page.get("/api/fields"))
    note("get", "/api/style", page.get("/api/style"))
    note("post", "/api/people", page.post("/api/people", json={"id": "p-3", "name": "Cy"}))
    path = f"{job}/photos?id=photo-1&by={ANN}&taken="
    note("post", "/api/jobs/{job}/photos", page.post(path, content=picture(), **post))
    note("post", "/api/jobs/{job}/photos", page.post(path, content=b"no picture", **post))
    note("post", "/api/jobs/{job}/actions", page.post(f"{job}/actions", json=action(said)))
    late = page.post(f"{job}/actions", json=action({**said, "version": 7}, op="change"))
    note("post", "/api/jobs/{job}/actions", late)
    bad = page.post(f"{job}/actions", json=action(entry(kind="ghost")))
    note("post", "/api/jobs/{job}/actions", bad)
    note("post", "/api/jobs/{job}/undo", page.post(f"{job}/undo", json=undo()))
    note("post", "/api/jobs/{job}/redo", page.post(f"{job}/redo", json=undo()))
    measured = {"part_id": RIGHT, "where": where(stroke((600, 300)))}
    note("post", "/api/jobs/{job}/measure", page.post(f"{job}/measure", json=measured))
    outbox = {"format": "airframe map outbox 1", "job_id": JOB, "made": "", "items": []}
    note("post", "/api/outbox", page.post("/api/outbox", json=outbox))
    book = note("get", "/api/jobs/{job}/book", page.get(f"{job}/book")).json()
    note("get", "/api/jobs/{job}/book", page.get("/api/jobs/none/book"))
    note("get", "/api/jobs/{job}/changes", page.get(f"{job}/changes?after=0"))
    shape = next(p["shape"] for p in book["parts"] if p["id"] == COVER)
    note("get", "/api/shapes/{digest}", page.get(f"/api/shapes/{shape}"))
    note("get", "/api/photos/{digest}", page.get(f"/api/photos/{'0' * 64}"))
    foreign = page.post(f"{job}/undo", json=undo(), headers={"origin": None})
    note("post", "/api/jobs/{job}/undo", foreign)
    return got


def test_answers_are_as_described_and_every_address_is(page: Any, told: Any) -> None:
    described = {f"{m} {path}" for path, ways in told["paths"].items() for m in ways}
    answers = asked(page)
    tried = {name for name, _, _ in answers} | {"get /api/jobs/{job}/events"}
    assert described == tried
    statuses = {status for _, status, _ in answers}
    assert {"200", "403", "404", "409", "422"} <= statuses
    for name, status, response in answers:
        method, path = name.split(" ")
        row = told["paths"][path][method]["responses"].get(status)
        assert row is not None, (name, status)
        content = row.get("content", {}).get("application/json")
        if response.headers["content-type"] != "application/json":
            assert content is None or not content.get("schema")
            continue
        schema = {**content["schema"], "components": told["components"]}
        jsonschema.Draft202012Validator(schema).validate(response.json())


def test_nothing_is_described_by_pages_that_would_fetch_from_elsewhere(page: Any) -> None:
    assert {page.get(path).status_code for path in ("/docs", "/redoc")} == {404}


def test_the_sorts_of_fields_are_those_of_the_one_table() -> None:
    assert get_args(models.FieldType) == FIELD_TYPES
