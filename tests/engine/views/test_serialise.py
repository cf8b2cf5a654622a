"""Every public answer can be made into JSON, and its documented form has what the docs say."""

import dataclasses
import json
import types
import typing
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

import engine.views
from engine.views import serialise
from schemas.errors import Problem

FORMATS = (Path(__file__).parents[3] / "docs" / "formats.md").read_text(encoding="utf-8")
ANSWERS = [getattr(engine.views, n) for n in engine.views.__all__]
CLASSES = [each for each in ANSWERS if dataclasses.is_dataclass(each)]
NOON = datetime(2026, 3, 9, 12, tzinfo=UTC)
PLAIN: dict[Any, Any] = {
    str: "text",
    bool: True,
    int: 3,
    float: 0.1234567,
    Decimal: Decimal("1.50"),
    bytes: b"bytes",
    datetime: NOON,
    date: NOON.date(),
    Problem: Problem("book.toml", 3, "book.name", "it is broken", "Mend it."),
}


def made(kind: Any) -> Any:
    """Something of a type, as full as its annotation allows: no None, one item of each kind."""
    if kind in PLAIN:
        return PLAIN[kind]
    origin, parts = typing.get_origin(kind), typing.get_args(kind)
    if dataclasses.is_dataclass(kind) or dataclasses.is_dataclass(origin):
        return answer(kind)
    if origin is typing.Literal:
        return parts[0]
    if origin in (typing.Union, types.UnionType):
        wanted = Decimal if Decimal in parts else next(p for p in parts if p is not type(None))
        return made(wanted)
    if origin is tuple and parts[-1] is Ellipsis:
        return (made(parts[0]),)
    if origin is tuple:
        return tuple(map(made, parts))
    if origin in (frozenset, list):
        return origin([made(parts[0])])
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {made(parts[0]): made(parts[1])}
    assert kind in (Any, typing.Any), f"{kind} is a type that this test does not know"
    return Decimal("1.50")


def answer(kind: Any) -> Any:
    """An answer with something in each field."""
    origin = typing.get_origin(kind) or kind
    hints = typing.get_type_hints(origin)
    bound = dict(zip(getattr(origin, "__parameters__", ()), typing.get_args(kind), strict=False))
    fields = {}
    for field in dataclasses.fields(origin):
        hint = hints[field.name]
        for parameter, wanted in bound.items():
            hint = hint[wanted] if parameter in getattr(hint, "__parameters__", ()) else hint
        fields[field.name] = made(hint)
    return origin(**fields)


@pytest.mark.parametrize("kind", CLASSES, ids=lambda kind: kind.__name__)
def test_each_answer_becomes_json(kind: type) -> None:
    told = serialise.plain(answer(kind))
    assert json.loads(json.dumps(told)) == told
    assert told
    assert "0.1234567" not in json.dumps(told)  # what is worked out is told to 1e-6


def test_the_list_of_answers_is_that_of_the_modules() -> None:
    there = {
        name
        for module in engine.views._MODULES
        if module != "programs"  # what a program's facts consist of is asked for through them
        for name, found in vars(import_module(f"engine.views.{module}")).items()
        if dataclasses.is_dataclass(found) and found.__module__ == f"engine.views.{module}"
    }
    assert there <= set(engine.views.__all__)


def _documented(command: str) -> list[str]:
    """The names that docs/formats.md has for an item of a command, in its first list."""
    (row,) = [line for line in FORMATS.split("\n") if line.startswith(f"| {command} |")]
    return [part.split("`")[0] for part in row.split("|")[2].split("; beside")[0].split("`")[1::2]]


@pytest.mark.parametrize(
    ("command", "name", "more"),
    [
        ("`marks`", "Mark", set()),
        ("`refills`", "Filled", set()),
        ("`run log`", "LogEntry", set()),
        ("`check`", "Finding", set()),
        ("`expected`", "Expected", set()),
        ("`tray-fit`", "FittedTray", {"record"}),
        ("`program`", "ProgramFacts", {"record", "since_proved"}),
        ("`show`", "Shown", set()),
    ],
)
def test_forms_have_what_the_docs_say(command: str, name: str, more: set[str]) -> None:
    told = serialise.plain(answer(getattr(engine.views, name)))
    documented = {n for n in _documented(command) if n != "null"}
    assert set(told) | more == documented


def test_typed_numbers_are_strings_and_counts_are_not() -> None:
    change = engine.views.Change("lot.quantity", 110, Decimal("120"), "pieces", Decimal(10))
    assert serialise.plain(change) == {
        "address": "lot.quantity",
        "old": "110",
        "new": "120",
        "unit": "pieces",
        "delta": "10",
        "unusable": None,
    }
    assert serialise.plain(answer(engine.views.RunState))["good"] == 3


def test_moments_keep_the_offset_that_they_were_written_with() -> None:
    then = datetime.fromisoformat("2026-03-02T07:15:40.5+05:30")
    assert serialise.value(then) == "2026-03-02T07:15:40+05:30"
