"""Every mistake on the command line of the record is one clear line, and changes nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.typed import refused, typed


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("add entry finding RW-02 --place x", "There: RW-01 outer wing"),
        ("add entry stain RW-01 --place x", "Kinds: finding, marking"),
        ("add entry finding RW-01 --place x --set depth_found=0,12", "has a comma"),
        ("add entry finding RW-01 --place x --set 'length=1 +/- 2'", "mm or more, without a +/-"),
        ("add entry finding RW-01 --place x --set depht_found=1", "Did you mean 'depth_found'"),
        (
            "add entry finding RW-01 --place x --set what=smear",
            "what it is: 'smear' was given. Allo",
        ),
        ("add entry finding RW-01 --place x --set what", "field=value"),
        ("add entry finding RW-01 --place x --set disposed_by=Otto", "There: Mira"),
        ("add entry finding RW-01 --place x --state done", "States: open"),
        ("add entry finding RW-01 --place x --state deferred", "deferred to a date"),
        ("add entry finding RW-01 --place x --when 31.5.2026", "a time as"),
        ("add entry finding RW-01 --place x --photo {tmp}/none.png", "cannot be read"),
        ("add entry finding RW-01 --place x --photo {tmp}/text.png", "picture"),
        ("add entry finding RW-01 --place x --caption words", "belong to a photo"),
        ("add entry finding RW-01 --stations 5000 6000", "stations go from 0 mm to 3000 mm"),
        (
            "add entry finding RW-01 --stations 2000 1000",
            "--stations 2000 1000 was given. The second st",
        ),
        ("add entry finding RW-01 --stations a b", "is no number"),
        ("add entry finding RW-01 --chord 10 120", "0 to 100"),
        ("add entry finding RW-01 --side left", "upper, lower or both"),
        ("add entry finding RW-01 --face left", "It has 'outer', 'inner'"),
        ("add entry finding RW-01 --skin tail", "It has 'skin'"),
        ("add entry finding RW-01 --point '1500 30'", "side is not said"),
        ("add entry finding RW-01 --point '1500' --side upper", "a station and a % chord"),
        (
            "add entry finding RW-01 --point '9000 30' --side upper",
            "stations go from 0 mm to 3000 mm",
        ),
        ("add entry finding RW-01 --line '1500 30' --side upper", "Two places or more"),
        ("add entry finding RW-01 --width 5 --panel x", "a --line or --along a band"),
        ("add entry finding RW-01 --point '1500 30' --side upper --chord 0 5", "at once"),
        ("add entry finding RW-01 --tape 'rib 9' 1 'front spar' 1 --side upper", "'rib 4'"),
        ("add entry finding RW-01 --disc 500 40 9000 --side upper", "A radius of 9000 mm"),
        ("add entry finding RW-01 --circle 500 500 0 --side upper", "More than 0 and at most"),
        (
            "add entry application RW-01 --set 'start=2026-05-31 14:00' --set"
            " 'stop=2026-05-31 13:00'",
            "The stop comes after the start",
        ),
        ("add entry reading RW-01", "Give --point, --tape or --place"),
        ("add entry reading RW-01 --stations 0 100", "drawn as areas"),
        ("add part --name ''", "has no name"),
        ("add part --name x --code RW-01", "RW-01"),
        ("add part --name x --assembly fin", "There: right wing"),
        ("add finish-system grey --coat 'kind=enamle'", "Did you mean 'enamel'"),
        ("add choice finding depth_found deep", "no list of choices"),
        ("add choice finding what dent", "there already"),
        ("new lot gel 1 --received today", "2026-05-31"),
        ("new job x --by Otto", "There: Mira"),
        ("list parts --job Biplane", "There: Two-seater"),
        ("list entries --kind stain", "Kinds: finding"),
        ("list entries --state done", "States: open"),
        ("show nothing", "Nothing answers to 'nothing'"),
        ("change RW-01", "Nothing to change"),
        ("change RW-01 --set serial=4", "assembly, name, code, note"),
        ("change shop --set units=yards", "'metric', 'inch'"),
        ("replace RW-01 --panel x --on 2026-01-01", "It has"),
        ("replace RW-01", "Add --on"),
        ("fields stain", "Kinds: finding"),
        ("history --limit -1", "or more"),
        ("redo", "nothing to redo"),
        ("setting estimate.no_such_rate 5", "estimate.no_such_rate"),
        ("backup {tmp}/shop/inside", "inside the shop"),
        ("restore {tmp} {tmp}/again", "backup"),
    ],
)
def test_every_mistake_is_one_clear_line(shop: Path, tmp_path: Path, line: str, says: str) -> None:
    (tmp_path / "text.png").write_text("no picture")
    before = typed("history --limit 0 --csv").out
    assert says in refused(line.format(tmp=tmp_path))
    assert typed("history --limit 0 --csv").out == before  # and nothing was recorded
