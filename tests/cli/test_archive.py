"""A job leaves a shop as an archive and comes into another, as typed."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema

from tests.cli.typed import PART, fine, refused


def test_from_shop_to_shop(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "wing.toml").write_text(PART)
    fine("new shop one 'Hangar one' --person Mira")
    fine("new shop two 'Hangar two' --person Tove")
    fine("new job 'Two-seater' --shop one")
    fine("add assembly 'right wing' --shop one")
    fine("add part wing.toml --code RW-01 --shop one")
    fine(
        "add entry finding RW-01 --stations 1200 1800 --chord 10 30 --side upper --shop one"
        " --set what=corrosion --note 'seen at the seam'"
    )
    told = fine("archive write job.zip --shop one")
    assert "job.zip" in told and "Newest hash" in told
    assert "Every file is as it was written." in fine("archive check job.zip")
    assert "taken in" in fine("archive read job.zip --shop two")
    assert "1200-1800" in fine("list entries --shop two")
    assert "Everything is as it was recorded." in fine("verify --shop two")
    assert "already" in refused("archive read job.zip --shop two --by Tove")
    fine("undo --shop two --by Tove")
    assert "there already" in refused("archive write job.zip --shop one")
    data = bytearray((tmp_path / "job.zip").read_bytes())
    (tmp_path / "cut.zip").write_bytes(data[: len(data) // 2])
    assert "no zip file" in refused("archive check cut.zip")
    assert "There is no" in refused("archive check nowhere.zip")


def test_the_schema_is_printed(tmp_path: Path) -> None:
    jsonschema.Draft202012Validator.check_schema(json.loads(fine("archive schema")))
