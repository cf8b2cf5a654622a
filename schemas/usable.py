"""Whether a value could stand at an address of the present schema, by itself.

Asked of values that history holds: whoever commits by hand may commit anything. What
values say together (the smallest first, a header that is missing) is not asked here.
"""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache
from typing import Any

from pydantic import ConfigDict, TypeAdapter, ValidationError

from schemas.address import KEY, Value
from schemas.document import MODELS, DocumentKind
from schemas.fields import describe
from schemas.number import Number, is_measurable

_STRICT = ConfigDict(strict=True, allow_inf_nan=False)
_NUMBER: TypeAdapter[Any] = TypeAdapter(Number, config=_STRICT)
_ADAPTERS: dict[str, TypeAdapter[Any]] = {}  # one for each kind of field, not for each address


def is_usable(kind: DocumentKind, address: str, value: Value) -> bool:
    """Whether the field of an address takes a value. False where there is no such field."""
    adapter = _adapter(kind, address)
    if adapter is None:
        return False
    if adapter is _NUMBER:  # nearly all that ever changes
        return is_measurable(value)
    try:
        adapter.validate_python(_as_read(value))
    except (ValidationError, RecursionError):
        return False
    return True


@lru_cache(maxsize=20_000)
def is_number_field(kind: DocumentKind, address: str) -> bool:
    """Whether the field of an address takes whatever number can be measured, and nothing else."""
    return _adapter(kind, address) is _NUMBER


@lru_cache(maxsize=20_000)
def _adapter(kind: DocumentKind, address: str) -> TypeAdapter[Any] | None:
    described = describe(MODELS[kind], address)
    if described is None or described.kind == "table":
        return None
    if not all(map(KEY.fullmatch, address.split("."))):
        return None
    if described.kind == "number":
        return _NUMBER
    name = repr(described.annotation)
    if name not in _ADAPTERS:
        _ADAPTERS[name] = TypeAdapter(described.annotation, config=_STRICT)
    return _ADAPTERS[name]


def _as_read(value: Any) -> Any:
    """Whole numbers as a file gives them: the index of values has Decimal for each number."""
    if isinstance(value, list):
        return [_as_read(item) for item in value]
    if isinstance(value, Decimal) and value.is_finite() and value.as_tuple().exponent == 0:
        return int(value)
    return value
