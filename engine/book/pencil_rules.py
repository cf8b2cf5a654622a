"""Marks of a journal obey the rules of typed ones: whoever wrote the journal, and how.

A journal is a private file that somebody else may have written to. What could not be
typed (an identity, a format, an address that is none, a value of the wrong kind, a cell
by somebody who is no lead) is shown with the reason, and is never inked.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError

from engine.book.session import Held
from engine.book.typed_values import refuse_fixed
from engine.drafts.marks import PencilMark
from schemas.address import Value
from schemas.document import MODELS, kind_of
from schemas.errors import ValueRefused
from schemas.typed import describe_known


def accepted(held: Held, person: str, marks: Iterable[PencilMark]) -> list[PencilMark]:
    """Those of somebody's marks that could have been typed."""
    return [mark for mark in marks if not why_not(held, person, mark)]


def why_not(held: Held, person: str, mark: PencilMark) -> str:
    """Why a mark is not accepted, in words; empty where it is."""
    known = held.session.people().people.get(person)
    if known is not None and not held.is_record and "lead" not in known.roles:
        return f"{known.name} is no lead"
    kind = kind_of(held.path)
    assert kind is not None
    try:
        refuse_fixed(mark.address)
        _check_field(MODELS[kind], mark.address, mark.value)
    except ValueRefused as error:
        return error.what
    return ""


def _check_field(model: type[BaseModel], address: str, value: Value | None) -> None:
    """ValueRefused for a value that no file of this kind could hold there."""
    adapter = _adapter(model, address)
    try:
        if value is not None:
            adapter.validate_python(value)
    except ValidationError as error:
        said = error.errors()[0]["msg"].removeprefix("Value error, ")
        raise ValueRefused(f"{address} cannot be this: {said}") from None


@lru_cache(maxsize=4096)
def _adapter(model: type[BaseModel], address: str) -> TypeAdapter[object]:
    described = describe_known(model, address)
    return TypeAdapter(described.annotation, config=ConfigDict(strict=True))
