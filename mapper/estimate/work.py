"""The work on each face of each panel, in m2 and m: what is to be stripped, by coat, and primed.

`whole` counts every coat as recorded before anything was done; `remaining` only what is left.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon

from mapper.errors import MapperError
from mapper.estimate.advice import Advice, advise
from mapper.estimate.cautions import metal_of
from mapper.estimate.chemical import Coats, Rates, Stripping, strip
from mapper.estimate.coats import Coat, CoatState, Zone, coat_states, left_area, zones_on
from mapper.estimate.inputs import Number
from mapper.estimate.ranges import HALF_WIDTH, Trials
from mapper.estimate.regions import NOTHING, PanelFace, PartRegions, rest_of, together
from mapper.surface.region import union

SCOPES = ("whole", "remaining")
M2 = 1e-6  # mm2 to m2
M = 1e-3  # mm to m

# Which of the two sets of figures a kind of coat is worked with. Only enamel and lacquer have their
# own; the other two are an assumption (common practice, no source). The rest could be either.
FAMILY = {"enamel": "enamel", "primer": "enamel", "lacquer": "lacquer", "dope": "lacquer"}
ASSUMED = {"primer": "enamel", "dope": "lacquer"}


@dataclass(frozen=True, eq=False)
class ZoneWork:
    """One stack to be stripped. area m2 and perimeter m of what is worked; coats: (coat, count),
    count 1 where it is to come off everywhere, less where only that share of the area still has it.
    taped m: what of the perimeter lies along the edge of the coat zones; between what is bare and
    what is not there is nothing to tape off.
    """

    zone: Zone
    area: float
    perimeter: float
    coats: tuple[tuple[Coat, float], ...]
    taped: float = 0.0

    @property
    def certain(self) -> bool:
        """True where every coat is known and has its own figures, so one number can be worked."""
        return all(c.number and c.kind in FAMILY for c, _ in self.coats)


@dataclass(frozen=True, eq=False)
class PanelWork:
    """The work on one face of a panel. primer_area m2: what will be bare once it is stripped;
    corroded_area m2: findings of corrosion that are not closed; aluminium: whether the sheet is
    known to be (acids and conversion coats are for nothing else)."""

    part_id: str
    face: PanelFace
    zones: tuple[ZoneWork, ...]
    primer_area: float
    advice: Advice
    corroded_area: float = 0.0
    aluminium: bool = False

    @property
    def key(self) -> str:
        """The name its own draws go by."""
        return "/".join((self.part_id, *self.face.where))


def work_on(part: PartRegions, scope: str) -> tuple[PanelWork, ...]:
    """The work on every face of every panel, in the part's order; a part without a shape: ().

    MapperError for a scope that is not one of SCOPES.
    """
    if scope not in SCOPES:
        raise MapperError(f"The scope is {scope!r}.", f"It is one of {', '.join(SCOPES)}.")
    return tuple(_panel(part, face, scope) for face in part.panels)


def _panel(part: PartRegions, face: PanelFace, scope: str) -> PanelWork:
    found: list[tuple[Zone, MultiPolygon, tuple[tuple[Coat, float], ...]]] = []
    coated = []
    for zone in zones_on(part, face):
        if not zone.coats:
            continue
        coated.append(zone.region)
        states = coat_states(part, face, zone)
        region = zone.region if scope == "whole" else _still_coated(states)
        area = part.area(face.skin, region)
        if area <= 0.0:
            continue
        shares = tuple(
            (s.coat, 1.0 if scope == "whole" else min(1.0, left_area(part, face, s) / area))
            for s in states
        )
        found.append((zone, region, tuple(s for s in shares if s[1] > 0.0)))
    # Two stacks side by side have one outline round both; each gets its share of that tape.
    round_each = [part.perimeter(face.skin, r) for _, r, _ in found]
    round_all = sum(round_each)
    if len(found) > 1:
        round_all = part.perimeter(face.skin, union(*(r for _, r, _ in found)))
    tape_all = round_all if scope == "whole" else _taped(part, face, found, coated)
    zones = tuple(
        ZoneWork(
            zone,
            part.area(face.skin, region) * M2,
            round_all * own / sum(round_each) * M,
            shares,
            tape_all * own / sum(round_each) * M,
        )
        for (zone, region, shares), own in zip(found, round_each)
    )
    to_prime = union(*coated) if coated else NOTHING
    if scope == "remaining" and not to_prime.is_empty:
        primed = (d for d in part.on("paint application", face) if d.value("coat") == "primer")
        to_prime = rest_of(to_prime, together(primed))
    return PanelWork(
        part.part_id,
        face,
        zones,
        part.area(face.skin, to_prime) * M2,
        advise(face.sheet),
        _corroded(part, face),
        face.sheet is not None and metal_of(face.sheet.alloy) == "aluminium",
    )


def _taped(
    part: PartRegions,
    face: PanelFace,
    found: Sequence[tuple[Zone, MultiPolygon, object]],
    coated: Sequence[MultiPolygon],
) -> float:
    """mm of the edge of all coat zones that what is left still reaches.

    The border between what is left and what is bare is part of both outlines and of no other, so
    the outlines of both are longer than that of the zones by twice that border.
    """
    if not found:
        return 0.0
    zones, left = union(*coated), union(*(r for _, r, _ in found))
    whole, own, bare = (part.perimeter(face.skin, r) for r in (zones, left, rest_of(zones, left)))
    return min(max(0.0, (own + whole - bare) / 2), own, whole)


def _corroded(part: PartRegions, face: PanelFace) -> float:
    """m2 of corrosion found on a face and not closed; what was drawn twice counts once."""
    found = [
        d
        for d in part.on("finding", face)
        if d.value("what") == "corrosion" and d.region == "area" and d.entry.state != "closed"
    ]
    return part.area(face.skin, together(found)) * M2 if found else 0.0


def _still_coated(states: tuple[CoatState, ...]) -> MultiPolygon:
    regions = [c.region for s in states for c in s.cells if c.left > 0.0]
    return union(*regions) if regions else NOTHING


Pick = Callable[[str], Number]


def middles(trials: Trials) -> Pick:
    """Every rate at its middle."""
    return lambda name: trials.rates[name].value


def draws(trials: Trials, panel: str) -> Pick:
    """Every rate as its draws, with the scatter of this panel on rates of labour."""
    return lambda name: trials.rate(name, panel)


def rates(pick: Pick) -> Rates:
    """The rates of chemical stripping as picked: middles or draws."""
    return Rates(
        lap=pick("lap"),
        wet_film=pick("wet_film"),
        drip=pick("drip"),
        apply=pick("apply"),
        rinse=pick("rinse"),
        tape=pick("tape"),
        hand=pick("hand"),
        dwell=pick("dwell"),
        coat_density=pick("coat_density"),
        stripper_density=pick("stripper_density"),
        evaporated=pick("evaporated"),
        rinse_water=pick("rinse_water"),
        rinses=pick("rinses"),
    )


def strip_middle(work: ZoneWork, trials: Trials) -> Stripping | None:
    """The formulas with every rate at its middle; None where the coats are not known well enough
    for one number to be more than invented."""
    if not work.certain:
        return None
    pick = middles(trials)
    cap = trials.rates["most_rounds"].value
    coats = [
        Coats(
            c.kind,
            count,
            pick(f"{FAMILY[c.kind]}_left"),
            pick(f"{FAMILY[c.kind]}_scrape"),
            pick("coat_thickness") if c.thickness is None else c.thickness,
            cap,
        )
        for c, count in work.coats
    ]
    return strip(work.area, work.perimeter, coats, rates(pick), work.taped)


def strip_trials(work: ZoneWork, trials: Trials, panel: str, size: Number) -> Stripping:
    """The formulas once per trial. size: factor on the areas of this part.

    An unknown stack has any number of coats in the stated range; a coat without figures of its own
    is worked as enamel in half of the trials and as lacquer in the others, all of them alike.
    """
    pick = draws(trials, panel)
    cap = trials.rates["most_rounds"].value
    as_enamel = trials.normal("coats nobody knows") < 0.0
    number = trials.rates["unknown_coats"]
    how_many = trials.whole("number of unknown coats", int(number.low), int(number.high))
    coats = []
    for coat, count in work.coats:
        family = FAMILY.get(coat.kind)
        both = [
            np.where(as_enamel, pick(f"enamel_{what}"), pick(f"lacquer_{what}"))
            for what in ("left", "scrape")
        ]
        left, scrape = (
            both if family is None else [pick(f"{family}_left"), pick(f"{family}_scrape")]
        )
        coats.append(
            Coats(
                coat.kind,
                count * how_many if coat.number == 0 else count,
                left,
                scrape,
                _thickness(coat, trials, panel, pick),
                cap,
            )
        )
    long = np.sqrt(size)
    return strip(work.area * size, work.perimeter * long, coats, rates(pick), work.taped * long)


def _thickness(coat: Coat, trials: Trials, panel: str, pick: Pick) -> Number:
    if coat.thickness is None:
        return pick("coat_thickness")
    sd = (coat.plus_minus or 0.0) / HALF_WIDTH
    return np.maximum(0.0, coat.thickness + sd * trials.normal(f"coat {coat.number} on {panel}"))
