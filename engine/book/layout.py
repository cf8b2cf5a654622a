"""The rows of the editor: every value that a document has or could have.

Order is the document's own; stations and axes follow the cell, so that a
station without a position shows as empty rows rather than not at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import get_args, get_origin

from pydantic import BaseModel

from engine.book.pencilling import MyPencil
from engine.book.session import Held
from engine.views import FieldRow
from schemas.address import Tree, look_up
from schemas.cell import Cell
from schemas.fields import Described, describe, plain
from schemas.record import Record
from schemas.units import unit_of

_USUAL_KEYS = {"fingers": ["blank", "part"]}


def rows(held: Held) -> list[FieldRow]:
    """Rows of a document, with the inked values; pencil may add rows of its own."""
    document = held.read()
    cell = held.session.cell_of(document)
    shown = MyPencil(held).document().tree
    inked = document.values
    found = []
    for address in _addresses(type(document.model), shown, document.tree, cell):
        described = describe(type(document.model), address)
        assert described is not None
        section, _, label = address.rpartition(".")
        unit = unit_of(document.model, address, cell)
        found.append(FieldRow(address, section, label, unit, described.kind, inked.get(address)))
    return found


def _addresses(
    model: type[BaseModel], shown: Tree, inked: Tree, cell: Cell | None
) -> Iterator[str]:
    """Addresses of values in the order of the model, keyed tables by the keys there are."""
    for name, info in model.model_fields.items():
        keys: list[tuple[str, ...]] = [(name,)]
        inner = plain(info.annotation)
        depth = 0
        while get_origin(inner) is dict:
            keys = [(*k, key) for k in keys for key in _keys(k, shown, inked, cell, model)]
            inner, depth = plain(get_args(inner)[1]), depth + 1
        for path in keys:
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                for address in _addresses(inner, {}, {}, None):
                    yield ".".join((*path, address))
            else:
                yield ".".join(path)


def _keys(
    path: tuple[str, ...], shown: Tree, inked: Tree, cell: Cell | None, model: type[BaseModel]
) -> list[str]:
    """Keys of a keyed table: what the cell asks for, then what is there."""
    wanted: list[str] = list(_USUAL_KEYS.get(path[0], ())) if model is Record else []
    if cell is not None and model is Record and path[0] in ("positions", "approach"):
        wanted = cell.station_order()
        if len(path) == 2:
            axes = cell.stations[path[1]].axes if path[1] in cell.stations else []
            wanted = [axis for axis in cell.axis_order() if axis in axes]
    there: list[str] = []
    for tree in (shown, inked):
        table = look_up(tree, ".".join(path))
        there += list(table) if isinstance(table, Mapping) else []
    return list(dict.fromkeys([*wanted, *there]))


def describe_resolved(held: Held, address: str) -> Described | None:
    """What an address means, with its unit resolved."""
    address = held.present(address)
    document = held.read()
    found = describe(type(document.model), address)
    if found is None:
        return None
    unit = unit_of(document.model, address, held.session.cell_of(document))
    return Described(address, found.meaning, unit, found.kind, found.choices, found.annotation)
