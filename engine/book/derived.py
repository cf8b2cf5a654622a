"""What follows from taught values: expected positions, and the grid that taught pockets say.

My pencil counts. Nothing is pencilled but on request, and each value then has the
note `derived`, so that nobody takes it for one that was taught.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from engine.book.figures import facts_of
from engine.book.pencilling import MyPencil
from engine.book.session import Held
from engine.figures.groups.agreement import expected_positions
from engine.figures.groups.tray_fit import in_words, tray_fit_of
from engine.figures.inputs import Facts, Missing
from engine.views import Draft, Expected, FittedTray
from schemas.address import Value
from schemas.errors import Refused, UsageError
from schemas.factors import MM_PER_UNIT
from schemas.pocket import name_of
from schemas.record import Record
from schemas.units import unit_of

DERIVED = "derived"


class Derived:
    """What follows from the taught values of one record."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self._session = held.session

    def expected(self) -> list[Expected]:
        """Positions that follow from the first taught one of each place, my pencil counted."""
        facts = self._my_facts()
        found = []
        for address, value in expected_positions(facts).items():
            _, station, axis = address.split(".")
            unit = unit_of(facts.record, address, facts.cell)
            taught = facts.record.positions.get(station, {}).get(axis)
            found.append(Expected(address, _typed(value, unit), unit, taught))
        return found

    def pencil_expected(self, addresses: Sequence[str] = ()) -> Draft | None:
        """Pencil expected positions: those named, or all that nobody taught yet."""
        there = {item.address: item for item in self.expected()}
        unknown = [address for address in addresses if address not in there]
        if unknown:
            raise UsageError(
                f"nothing is expected of {unknown[0]}", hint="`expected` lists what follows."
            )
        chosen = addresses or [a for a, item in there.items() if item.taught is None]
        if not chosen:
            raise Refused(
                "every position that follows from another is taught already",
                where=self._held.name,
                hint="Name the addresses to be put over the taught values.",
            )
        return MyPencil(self._held).put({a: there[a].value for a in chosen}, DERIVED)

    def tray_fit(self) -> FittedTray:
        """What the taught pockets say about the grid of the tray, pitches in the record's unit."""
        facts = self._my_facts()
        try:
            fit = tray_fit_of(facts)
        except Missing as error:
            raise Refused(
                f"missing for a fit: {error}", where=self._held.name, hint="Set it, then ask again."
            ) from None
        unit = facts.record.record.units
        off = {name_of(pocket): off for pocket, off in fit.left_out.items()}
        return FittedTray(
            fit.verdict,
            in_words(fit),
            _length(fit.pitch_across, unit),
            _length(fit.pitch_along, unit),
            unit,
            fit.rotation,
            fit.skew,
            off,
            tuple(map(name_of, fit.suspects)),
            name_of(fit.teach_next) if fit.teach_next else "",
        )

    def pencil_tray_fit(self) -> Draft | None:
        """Pencil the fitted pitches. Refused where the taught pockets do not agree."""
        fit = self.tray_fit()
        if fit.verdict == "does not fit":
            raise Refused(
                f"the taught pockets do not agree: {fit.words}",
                where=self._held.name,
                hint="Teach it again.",
            )
        pitches = {"tray.pitch_across": fit.pitch_across, "tray.pitch_along": fit.pitch_along}
        values: dict[str, Value | None] = {a: v for a, v in pitches.items() if v is not None}
        if not values:
            raise Refused(
                "too few pockets are taught for a pitch", where=self._held.name, hint=fit.words
            )
        return MyPencil(self._held).put(values, DERIVED)

    def _my_facts(self) -> Facts:
        model = MyPencil(self._held).document().model
        if not isinstance(model, Record):
            raise UsageError(f"{self._held.name} is no record")
        return facts_of(self._session, model)


def _length(value: float | None, unit: str) -> Decimal | None:
    if value is None:
        return None
    return _typed(value / MM_PER_UNIT[unit], unit)


def _typed(value: float, unit: str) -> Decimal:
    """As a person would type it: to 0.001 mm or degree, to 0.0001 inch."""
    return round(Decimal(repr(value)), 4 if unit == "in" else 3) + Decimal(0)
