"""Strategies that make any valid document of the book, from the models themselves."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Annotated, Any, Literal, get_args, get_origin

from hypothesis import strategies as st
from pydantic import BaseModel, StringConstraints

from schemas.document import MODELS, DocumentKind
from schemas.record import Span

_ALPHABET = st.characters(
    blacklist_categories=("Cs", "Cc"),
    blacklist_characters="\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c"
    "\u2028\u2029",
)
_TEXT = st.text(_ALPHABET, max_size=12) | st.sampled_from(
    ['"', "\\", "a = 1", "# no", "'''", '"""', "", " ", "é", "[x]", "\\u0041"]
)
_LINES = st.lists(_TEXT, max_size=3).map("\n".join) | st.sampled_from(["a\r\nb", "\t", "\r", "x\n"])
NUMBERS = st.from_regex(r"-?(0|[1-9][0-9]{0,5})(\.[0-9]{1,4})?", fullmatch=True).map(Decimal)
_KEYS = st.from_regex(r"[A-Za-z0-9_-]{1,5}", fullmatch=True) | st.sampled_from(
    ["T1", "T01", "T10", "T9", "seat", "-", "true", "1"]
)
_MOMENTS = st.builds(
    lambda at, minutes: at.replace(tzinfo=timezone(timedelta(minutes=minutes))),
    st.datetimes(datetime(1990, 1, 1), datetime(2200, 1, 1)).map(
        lambda d: d.replace(microsecond=0)
    ),
    st.integers(-700, 700),
) | st.just(datetime(2026, 3, 2, tzinfo=UTC))
PATHS: dict[DocumentKind, str] = {
    "record": "records/a.toml",
    "cell": "cells/a.toml",
    "people": "people.toml",
    "book": "book.toml",
    "run": "runs/wm-abcdef/1.toml",
    "sign-off": "signoffs/wm-abcdef/1.toml",
    "event": "events/a/1.toml",
    "acknowledgement": "acknowledged/past/1.toml",
}


def trees(kind: DocumentKind) -> st.SearchStrategy[dict[str, Any]]:
    """Nested tables of any valid document of a kind."""
    return _of_model(MODELS[kind])


def _of_model(model: type[BaseModel]) -> st.SearchStrategy[dict[str, Any]]:
    needed, optional = {}, {}
    for name, info in model.model_fields.items():
        strategy = _of(info.rebuild_annotation())
        (needed if info.is_required() else optional)[name] = strategy
    return st.fixed_dictionaries(needed, optional=optional)


def _of(annotation: Any) -> st.SearchStrategy[Any]:
    if Span in (annotation, *get_args(annotation)):
        return st.tuples(NUMBERS, NUMBERS).map(sorted)
    inner = plain_but_patterns(annotation)
    if get_origin(inner) is Annotated:
        return _of_annotated(inner)
    origin, arguments = get_origin(inner), get_args(inner)
    if origin is Literal:
        return st.sampled_from(arguments)
    if origin is list:
        return st.lists(_of(arguments[0]), max_size=3)
    if origin is dict:
        return st.dictionaries(_of(arguments[0]), _of(arguments[1]), max_size=3)
    if isinstance(inner, type) and issubclass(inner, BaseModel):
        return _of_model(inner)
    simple: dict[Any, st.SearchStrategy[Any]] = {
        Decimal: NUMBERS,
        bool: st.booleans(),
        int: st.integers(-(10**9), 10**9),
        date: st.dates(),
        str: _TEXT,
    }
    return simple[inner]


def plain_but_patterns(annotation: Any) -> Any:
    """Without `| None`, and without `Annotated` unless it stands for a form of text or moment."""
    if get_origin(annotation) is not Annotated:
        args = [a for a in get_args(annotation) if a is not type(None)]
        union = type(None) in get_args(annotation)
        return plain_but_patterns(args[0]) if union else annotation
    base, *rest = get_args(annotation)
    if any(isinstance(r, StringConstraints) for r in rest) or base is datetime:
        return annotation
    return plain_but_patterns(base)


def _of_annotated(annotation: Any) -> st.SearchStrategy[Any]:
    base, *rest = get_args(annotation)
    if base is datetime:
        return _MOMENTS
    form = next(r for r in rest if isinstance(r, StringConstraints))
    if form.pattern:
        pattern = str(form.pattern).removeprefix("^").removesuffix("$")
        if "A-Za-z0-9_-" in pattern:
            return _KEYS
        return st.from_regex(pattern.replace(r"\d", "[0-9]"), fullmatch=True)
    return _LINES if (form.max_length or 0) > 1000 else _TEXT
