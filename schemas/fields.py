"""A field says what it means and in which unit; screens and messages ask here.

`unit` is a plain symbol (mm/s, N, bar, …), or `length`: the record's own unit,
or `axis`: the unit that the cell gives the axis, or empty for text and counts.
The description of an address never depends on the values of a record. In a record
every field also says its class: coupled, recipe or reading (`record.py` says what that is).
"""

from __future__ import annotations

import difflib
import types
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from schemas.address import natural

_BIDI = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c")


def _visible(text: str, allowed: str = "") -> str:
    for character in text:
        if character in allowed:
            continue
        if ord(character) < 32 or 127 <= ord(character) < 160 or character in _BIDI:
            raise ValueError(f"a character that cannot be seen (U+{ord(character):04X})")
        if 0xD800 <= ord(character) <= 0xDFFF or ord(character) in (0x2028, 0x2029):
            raise ValueError(f"a character that does not belong (U+{ord(character):04X})")
    return text


def visible_lines(text: str) -> str:
    """A text of several lines, if every character of it can be seen. ValueError otherwise."""
    return _visible(text, "\n\r\t")


Text = Annotated[str, StringConstraints(max_length=400), AfterValidator(_visible)]
LongText = Annotated[str, StringConstraints(max_length=20_000), AfterValidator(visible_lines)]
Key = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-]{1,64}$")]
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


class Section(BaseModel):
    """One table of a file: strict types, no unknown keys, never changed in place."""

    model_config = ConfigDict(
        strict=True,
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        validate_default=True,  # an absent table is an empty section, not an empty dict
    )


def field(meaning: str, unit: str = "", class_: str = "") -> Any:
    """An optional value with its meaning and unit; absent means not known yet."""
    extra: dict[str, Any] = {"unit": unit, "class": class_}
    return Field(default=None, description=meaning, json_schema_extra=extra)


def needed(meaning: str, unit: str = "") -> Any:
    """A value without which the file cannot be read; in a record it is recipe."""
    return Field(description=meaning, json_schema_extra={"unit": unit, "class": "recipe"})


def table(meaning: str, unit: str = "", class_: str = "") -> Any:
    """A table whose keys are the person's own (stations, tools, photos).

    The class is that of its values, where they are no sections that say it themselves.
    """
    return Field(
        default_factory=dict,
        validate_default=True,  # a section that a file leaves out is an empty section, no {}
        description=meaning,
        json_schema_extra={"unit": unit, "class": class_},
    )


@dataclass(frozen=True, slots=True)
class Described:
    """What is known about one address. `choices` is empty unless it is one of a few."""

    address: str
    meaning: str
    unit: str
    kind: str  # text, number, whole, yes/no, choice, list, table, date
    choices: tuple[str, ...]
    annotation: Any


@lru_cache(maxsize=20_000)
def describe(model: type[BaseModel], address: str) -> Described | None:
    """The description of an address in a model, or None where nothing is known there."""
    annotation: Any = model
    meaning, unit = (model.__doc__ or "").split("\n")[0], ""
    for key in address.split("."):
        inner = plain(annotation)
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            info = inner.model_fields.get(key)
            if info is None:
                return None
            extra = info.json_schema_extra
            meaning = info.description or ""
            unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
            annotation = info.rebuild_annotation()
        elif get_origin(inner) is dict:
            annotation = get_args(inner)[1]
        else:
            return None
    inner = plain(annotation)
    choices = tuple(map(str, get_args(inner))) if get_origin(inner) is Literal else ()
    return Described(address, meaning, unit, _kind(inner), choices, annotation)


@lru_cache(maxsize=20_000)
def class_of(model: type[BaseModel], address: str) -> str:
    """The class that the field of an address says; empty where it says none or there is none."""
    annotation: Any = model
    found = ""
    for key in address.split("."):
        inner = plain(annotation)
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            info = inner.model_fields.get(key)
            if info is None:
                return ""
            extra = info.json_schema_extra
            found = str(extra.get("class", "")) if isinstance(extra, dict) else ""
            annotation = info.rebuild_annotation()
        elif get_origin(inner) is dict:
            annotation = get_args(inner)[1]
        else:
            return ""
    return found


@lru_cache(maxsize=20_000)
def place_in(model: type[BaseModel], address: str) -> tuple[Any, ...]:
    """Sorts known addresses of a model as they stand in a file of it."""
    annotation: Any = model
    found: list[Any] = []
    for key in address.split("."):
        inner = plain(annotation)
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            found.append(list(inner.model_fields).index(key))
            annotation = inner.model_fields[key].annotation
        else:
            found.append(natural(key))
            annotation = get_args(inner)[1]
    return tuple(found)


def plain(annotation: Any) -> Any:
    """An annotation without `Annotated` and without `| None`."""
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation = get_args(annotation)[0]
        elif origin in (Union, types.UnionType):
            annotation = next(a for a in get_args(annotation) if a is not type(None))
        else:
            return annotation


def _kind(inner: Any) -> str:
    origin = get_origin(inner)
    if origin is Literal:
        return "choice"
    if origin in (list, dict):
        return "list" if origin is list else "table"
    if isinstance(inner, type) and issubclass(inner, BaseModel):
        return "table"
    names = {"str": "text", "Decimal": "number", "int": "whole", "bool": "yes/no"}
    return names.get(inner.__name__, "date")


def nearest(model: type[BaseModel], address: str) -> str:
    """The known name nearest to an unknown last key, or empty."""
    *above, last = address.split(".")
    annotation: Any = model
    if above:
        described = describe(model, ".".join(above))
        if described is None:
            return ""
        annotation = plain(described.annotation)
    if not (isinstance(annotation, type) and issubclass(annotation, BaseModel)):
        return ""
    known = list(annotation.model_fields)
    return next(iter(difflib.get_close_matches(last, known, n=1, cutoff=0.5)), "")


def fields_of(model: type[BaseModel], prefix: str = "") -> Iterator[Described]:
    """Every describable address; `*` stands where a person chooses the key."""
    for name, info in model.model_fields.items():
        address = f"{prefix}{name}"
        described = describe(model, name)
        assert described is not None
        inner: Any = plain(info.annotation)
        path = address
        while get_origin(inner) is dict:
            inner, path = plain(get_args(inner)[1]), f"{path}.*"
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            yield from fields_of(inner, f"{path}.")
        else:
            yield Described(
                path,
                described.meaning,
                described.unit,
                _kind(inner),
                described.choices,
                described.annotation,
            )
