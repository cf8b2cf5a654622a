"""A document is one file of the book: its kind, its name, and its values.

Reading checks every value and reports every reason at once, each with file,
line and address. A document that was read writes the same values back in
canonical order; keyed tables are sorted as people count (T9 before T10).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError

from schemas.address import NAME, Tree, Value, flatten, natural
from schemas.book import BookFile
from schemas.cell import Cell
from schemas.errors import Problem, ReadError
from schemas.fields import nearest, plain
from schemas.lines import TextLayout
from schemas.log import Acknowledgement, Event, Run, SignOff
from schemas.people import People
from schemas.record import Record
from schemas.toml import read_toml, write_toml
from schemas.upgrade import upgrade

DocumentKind = Literal[
    "record", "cell", "people", "book", "run", "sign-off", "event", "acknowledgement"
]

MODELS: dict[DocumentKind, type[BaseModel]] = {
    "record": Record,
    "cell": Cell,
    "people": People,
    "book": BookFile,
    "run": Run,
    "sign-off": SignOff,
    "event": Event,
    "acknowledgement": Acknowledgement,
}
FORMATS: dict[DocumentKind, int] = {  # the present format of each kind, the newest that is known
    kind: get_args(model.model_fields["format"].annotation)[0] for kind, model in MODELS.items()
}
_FOLDERS: dict[str, DocumentKind] = {
    "records": "record",
    "cells": "cell",
    "runs": "run",
    "signoffs": "sign-off",
    "events": "event",
    "acknowledged": "acknowledgement",
}


@dataclass(frozen=True)
class Document:
    """One file of the book that could be read.

    `path` is relative to the book, with forward slashes. `comments` are those
    of a hand-edited text: (line, nearest address, words).
    """

    kind: DocumentKind
    path: str
    model: BaseModel
    comments: tuple[tuple[int, str, str], ...] = ()

    @property
    def name(self) -> str:
        """The name people use: `retainer-op20`, `cells/east-lathe`, `people`, `book`."""
        return name_of(self.path)

    @cached_property
    def tree(self) -> Tree:
        """The values in canonical order, absent ones left out."""
        return canonical_tree(self.model)

    @cached_property
    def values(self) -> dict[str, Value]:
        """Every value by address."""
        return flatten(self.tree)

    @cached_property
    def bytes(self) -> bytes:
        """The canonical text."""
        return write_toml(self.tree)


@lru_cache(maxsize=20_000)
def kind_of(path: str) -> DocumentKind | None:
    """The kind of a path in the book, or None where it is no document."""
    if path == "book.toml":
        return "book"
    if path == "people.toml":
        return "people"
    parts = [part for part in path.split("/") if part not in ("", ".")]
    named = bool(parts) and parts[-1].endswith(".toml") and parts[-1] != ".toml"
    kind = _FOLDERS.get(parts[0]) if named and not path.startswith("/") else None
    deep = 2 if kind in ("record", "cell") else 3
    return kind if kind and len(parts) == deep else None


def name_of(path: str) -> str:
    """The name of a document by its path."""
    stem = path.removesuffix(".toml")
    return stem.removeprefix("records/")


def path_of(name: str) -> str:
    """The path of a document by its name; ValueError where the name is none."""
    if name in ("people", "book"):
        return f"{name}.toml"
    folder, slash, stem = name.rpartition("/")
    if slash and folder not in ("cells", "records"):
        raise ValueError(f"{folder!r} is no folder of documents")
    if not NAME.fullmatch(stem) or stem.endswith(".toml"):
        raise ValueError("a name has letters, digits, points, dashes; it starts with one of these")
    return f"{folder or 'records'}/{stem}.toml"


def read_document(data: bytes, path: str) -> Document:
    """Read one file. ReadError holds a problem for each reason."""
    kind = kind_of(path)
    if kind is None:
        hint = "Records lie in records/, cells in cells/."
        raise ReadError([Problem(path, 0, "", "this is no file of a book", hint)])
    return check_tree(*read_tree(data, path))


def read_tree(data: bytes, path: str) -> tuple[Tree, str, TextLayout]:
    """What a file says, in the present format, unchecked: for `check_tree`."""
    parsed = read_toml(data, path)
    tree, layout = upgrade(kind_of(path) or "", parsed.tree, parsed.layout)
    return tree, path, layout


def read_problems(data: bytes, path: str) -> list[Problem]:
    """Why a file cannot be used, every reason; nothing where it can."""
    try:
        read_document(data, path)
    except ReadError as error:
        return error.problems
    return []


def check_tree(tree: Mapping[str, Any], path: str, layout: TextLayout | None = None) -> Document:
    """A document from nested tables; the same refusals as for a file."""
    kind = kind_of(path)
    assert kind is not None
    layout = layout or TextLayout()
    try:
        model = MODELS[kind].model_validate(dict(tree))
    except ValidationError as error:
        raise ReadError(_problems(error, MODELS[kind], path, layout)) from None
    except RecursionError:
        hint = "Take the nested tables apart."
        raise ReadError([Problem(path, 0, "", "nested too deeply", hint)]) from None
    return Document(kind, path, model, tuple(layout.comments))


def _problems(
    error: ValidationError, model: type[BaseModel], path: str, layout: TextLayout
) -> list[Problem]:
    problems = []
    for detail in error.errors(include_url=False, include_input=False):
        keys = [str(key) for key in detail["loc"] if isinstance(key, str) and key != "[key]"]
        address = ".".join(keys)
        what, hint = _in_words(detail["type"], detail["msg"], model, address)
        problems.append(Problem(path, layout.line_of(address), address, what, hint))
    return sorted(problems, key=lambda problem: problem.line)


def _in_words(kind: str, message: str, model: type[BaseModel], address: str) -> tuple[str, str]:
    """pydantic's report as a person would say it."""
    if kind == "extra_forbidden":
        near = nearest(model, address)
        hint = f"Did you mean {near!r}?" if near else "Take it out, or put it in the notes."
        return "nothing is known by this name", hint
    if kind == "literal_error" and address == "format":
        hint = "A newer program wrote it: bring this one up to date, and sync again."
        return "this format of the file is not known here", hint
    if kind == "missing":
        return "this value is missing", "Write it; without it the file cannot be used."
    message = message.removeprefix("Value error, ")
    if kind == "string_pattern_mismatch":
        return "the text is not of the form wanted here", message.replace("String", "It")
    return message[:1].lower() + message[1:], "Correct the value."


def canonical_tree(model: BaseModel) -> Tree:
    """The values of a model in the order of its fields, absent ones left out."""
    tree: Tree = {}
    for name, info in type(model).model_fields.items():
        value = _plain_value(getattr(model, name), keyed=get_origin(plain(info.annotation)) is dict)
        if value is not None and value != {}:
            tree[name] = value
    return tree


def _plain_value(value: Any, *, keyed: bool) -> Any:
    if isinstance(value, BaseModel):
        return canonical_tree(value)
    if keyed:
        pairs = (
            (key, _plain_value(value[key], keyed=isinstance(value[key], dict)))
            for key in sorted(value, key=natural)
        )
        return {key: item for key, item in pairs if item != {}}
    return value
