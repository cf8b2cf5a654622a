"""What a person typed, read as the value of an address: with its unit, its keys, its file.

Nothing here writes. What the cell does not have is a slip of the keyboard and is
refused with the nearest name; the hash of a linked file is taken, never typed.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace

from engine.book.session import Held, Session
from engine.repo.work_tree import read_file
from schemas.address import Value
from schemas.cell import Cell
from schemas.document import Document
from schemas.errors import UsageError, ValueRefused
from schemas.fields import Described
from schemas.record import Record, is_link
from schemas.typed import describe_known, read_as

FIXED = ("format", "record.id", "record.copied_from", "book.id")


def read_all(
    held: Held, document: Document, present: Mapping[str, Value], typed: Mapping[str, str]
) -> dict[str, Value | None]:
    """Values by address for what was typed; `present` is what stands there, pencil counted.

    ValueRefused says why one is not accepted.
    """
    session, wanted = held.session, dict[str, Value | None]()
    for given, text in typed.items():
        address = held.present(given)
        _refuse_twice(address, given, typed)
        described = _described(session, document, address)
        refuse_fixed(address)
        _check_keys(session, document, address)
        by_hash = address.endswith(".sha256") and text.strip().lower() == "now"
        meant = _hash_of_link(session, {**present, **wanted}, address) if by_hash else text
        wanted[address] = read_as(described, meant)
        if is_link(address) and address != "program.file":
            wanted[address.removesuffix("file") + "sha256"] = _photo_hash(session, text)
    return wanted


def _refuse_twice(address: str, given: str, typed: Mapping[str, str]) -> None:
    """One value under its present name and under an earlier one: nobody can say which counts."""
    if address != given and address in typed:
        raise ValueRefused(
            f"{given} is {address} now, and both were given", hint="Leave one of them out."
        )


def refuse_fixed(address: str) -> None:
    """ValueRefused for an address that nobody changes by hand."""
    if address in FIXED:
        raise ValueRefused(
            f"{address} is never changed by hand",
            hint="`copy` gives a new identity, `rename` keeps it.",
        )


def _check_keys(session: Session, document: Document, address: str) -> None:
    """A station or axis that the cell does not have is a slip of the keyboard."""
    cell = session.cell_of(document)
    keys = address.split(".")
    if not isinstance(document.model, Record) or cell is None:
        return
    if keys[0] in ("positions", "approach"):
        _known(
            keys[1], cell.station_order(), f"the cell {document.model.record.cell} has no station"
        )
    if keys[0] == "positions" and len(keys) > 2:
        _known(keys[2], _axes_of(cell, keys[1]), f"the station {keys[1]} has no axis")


def _axes_of(cell: Cell, station: str) -> list[str]:
    wanted = cell.stations[station].axes if station in cell.stations else []
    return [axis for axis in cell.axis_order() if axis in wanted] or cell.axis_order()


def _known(key: str, names: Sequence[str], what: str) -> None:
    if key not in names:
        near = difflib.get_close_matches(key, names, n=1, cutoff=0.5)
        hint = f"Did you mean {near[0]!r}? " if near else ""
        raise ValueRefused(f"{what} {key!r}", hint=f"{hint}It has: {', '.join(names)}.")


def _described(session: Session, document: Document, address: str) -> Described:
    """What may stand at an address, with the unit that a person would say."""
    known = describe_known(type(document.model), address)
    return replace(known, unit=session.units(document)(address))


def _hash_of_link(session: Session, values: Mapping[str, Value | None], address: str) -> str:
    path = values.get(address[: -len("sha256")] + "file")
    data = read_file(session.folder, str(path)) if path else None
    if data is None:
        raise ValueRefused(
            f"there is no file to take the hash of at {path or 'no path'}",
            where=address,
            hint="Set the path first.",
        )
    return hashlib.sha256(data).hexdigest()


def _photo_hash(session: Session, path: str) -> str | None:
    """The hash of a picture that is named; None where it is not there yet (a finding says so)."""
    try:
        data = read_file(session.folder, path)
    except UsageError:
        return None
    return hashlib.sha256(data).hexdigest() if data is not None else None
