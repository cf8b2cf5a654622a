"""Which unit a value has: the field's own, the record's, or the axis' in its cell."""

from __future__ import annotations

from decimal import Decimal

from pydantic import BaseModel

from schemas.cell import Cell
from schemas.factors import MM_PER_INCH
from schemas.fields import describe
from schemas.record import Record


def unit_of(model: BaseModel, address: str, cell: Cell | None = None) -> str:
    """The unit of an address in a document; empty for text, counts and the unknown.

    `cell` is the record's cell; an axis that it does not know has no unit.
    """
    if isinstance(model, Record):
        return unit_in(Record, address, model.record.units, cell)
    return unit_in(type(model), address, "mm", model if isinstance(model, Cell) else cell)


def unit_in(of: type[BaseModel], address: str, length: str, cell: Cell | None) -> str:
    """The same for a model of which only its own unit of length and its cell are known."""
    described = describe(of, address)
    if described is None or not described.unit or described.kind == "table":
        return ""
    unit = described.unit
    if unit == "length":
        return length
    if unit.startswith("axis"):
        keys, at = address.split("."), 1 if of is Cell else 2
        if len(keys) <= at:
            return ""  # a table of such values, not one
        name = keys[at]
        axis = cell.axes.get(name) if cell else None
        return axis.unit + unit.removeprefix("axis") if axis else ""
    return "" if unit == "1" else unit


def to_mm(value: Decimal, unit: str) -> Decimal:
    """A length in mm, exactly."""
    return value * MM_PER_INCH if unit == "in" else value
