"""The one table of fields as the forms take it, in the shop's units and with its own choices."""

from __future__ import annotations

from mapper.estimate.cautions import cautions_for
from mapper.job.entry import STATES
from mapper.job.fields import REGION_TYPES, Field, Kind
from mapper.job.kinds import KINDS
from mapper.job.records import Shop
from mapper.job.values import own_choices
from mapper.quantities import QUANTITIES
from mapper.units import Units
from mapper.viewer.server.models import CautionView, Fields, FieldView, KindView, UnitView

DIGITS = 3  # significant ones, as `Units.show` gives without a tolerance


def fields_of(shop: Shop) -> Fields:
    """All kinds of entry with their fields, the states, and the units of what is worked out."""
    units = Units(shop.units)
    return Fields(
        kinds=[_kind(shop, kind, units) for kind in KINDS.values()],
        states=list(STATES),
        units={
            unit: UnitView(
                label=units.label(unit),
                factor=units.number(1.0, unit) - units.number(0.0, unit),
                digits=DIGITS,
            )
            for unit in QUANTITIES
        },
    )


def _kind(shop: Shop, kind: Kind, units: Units) -> KindView:
    return KindView(
        name=kind.name,
        plural=kind.plural,
        help=kind.help,
        regions=[r for r in REGION_TYPES if r in kind.regions],
        style=kind.style,
        fields=[_field(f, units, own_choices(shop, kind.name, f)) for f in kind.fields],
        cautions=[CautionView(text=c.text, source=c.source) for c in cautions_for(kind=kind.name)],
    )


def _field(f: Field, units: Units, own: tuple[str, ...]) -> FieldView:
    least, most = (None if b is None else units.number(b, f.unit) for b in (f.least, f.most))
    return FieldView(
        name=f.name,
        label=f.label,
        type=f.type,
        unit=units.label(f.unit) if f.unit else "",
        choices=[*f.choices, *own],
        least=least,
        most=most,
        of=[_field(g, units, ()) for g in f.of],
        refers_to=f.refers_to,
        expected=f.expected,
        help=f.help,
        whole=f.whole,
        only_if=list(f.only_if),
        unless=list(f.unless),
        computed=f.computed,
    )
