"""The fast reader, case by case: what it takes, what it leaves to the full reader, what differs.

What a text says is TOML 1.0.0's business (sections "Integer", "Float", "String", "Array",
"Table"); how our own writer spells it stands in `schemas/toml.py`.
"""

from __future__ import annotations

import pytest

from engine.log.canonical_text import Canonical, changed_tables, read_canonical
from schemas.toml import MOST_BYTES


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("", {}),
        ("\n\na = 1\n\n", {"a": "1"}),
        ("a = -1.50\n", {"a": "-1.50"}),
        ("a = true\nb = false\n", {"a": "true", "b": "false"}),
        ('a = "x y"\n', {"a": '"x y"'}),
        ('a = "x\ty"\n', {"a": '"x\ty"'}),
        ('a = "say \\"so\\""\n', {"a": '"say \\"so\\""'}),
        ('a = "one\\ntwo"\n', {"a": '"one\\ntwo"'}),
        ("a = 2026-02-28\n", {"a": "2026-02-28"}),
        ("a = 2026-02-28 10:00:00\n", {"a": "2026-02-28 10:00:00"}),
        ("a = 2026-02-28 10:00:00+01:00\n", {"a": "2026-02-28 10:00:00+01:00"}),
        ("a = []\n", {"a": "[]"}),
        ("a = [\n    1,\n]\n", {"a": "[1]"}),
        ('a = [\n    1.0,\n    "x",\n    true,\n]\nb = 2\n', {"a": '[1.0, "x", true]', "b": "2"}),
        ("[t]\na = 1\n\n[t.u]\na = 2\n", {"t.a": "1", "t.u.a": "2"}),
        ("[t.u]\na = 2\n\n[t]\nb = 1\n", {"t.u.a": "2", "t.b": "1"}),
        ("[t.u]\na = 2\n\n[t.v]\na = 3\n", {"t.u.a": "2", "t.v.a": "3"}),
        ("[t]\n", {}),
        ("a-b_C9 = 1\n", {"a-b_C9": "1"}),
        ("a = 12345678901234567890\n", {"a": "12345678901234567890"}),
        ("a = 0\nb = 0.0\n", {"a": "0", "b": "0.0"}),
        ("a = nan\nb = -inf\n", {"a": "nan", "b": "-inf"}),
        ("a = 07:15:00\n", {"a": "07:15:00"}),
    ],
)
def test_what_the_writer_writes_is_read(text: str, values: dict[str, str]) -> None:
    read = read_canonical(None, text.encode())
    assert read is not None
    assert read[0] == values


@pytest.mark.parametrize(
    "text",
    [
        "a = 1 \n", " a = 1\n", "a=1\n", "a = 1 # why\n", "# why\n", "a = 01\n", "a = +1\n",
        "a = 1_0\n", "a = 0x1\n", "a = 1e3\n", "a = 1.\n", "a = .5\n", "a = -0\n", "a = -0.00\n",
        "a = 123456789012345678901\n", "a = 'x'\n", 'a = """x"""\n', 'a = "\\u0041"\n',
        'a = "\\q"\n', 'a = "x\n', "a.b = 1\n", '"a" = 1\n', "a = {}\n", "a = True\n",
        "a = 2026-02-30\n", "a = 2026-02-28T10:00:00\n", "a = 2026-02-28 25:00:00\n",
        "a = 2026-02-28 10:00:00-00:00\n", "a = 25:00:00\n", "a = 7:15:00\n", "a = -nan\n",
        "a = [1]\n", "a = [\n]\n", "a = [\n    1\n]\n", "a = [\n  1,\n]\n", "a = [\n    1,\n",
        "a = [\n    1,\n    -0,\n]\n", "a = [\n    1,\n]", "a = [\n    1,\n ]\n",
        "a = [\n\n    1,\n]\n",
        "a = [\n    [],\n]\n", 'a = [\n    "\\q",\n]\n',
        "a = 1\na = 2\n", "a = 1\n[a]\n", "a = 1\n[a.b]\n", "[a]\nb = 1\n[a.b]\n", "[t]\n[t]\n",
        "[t.u]\na = 1\n[t]\nu = 1\n", "[t]\na = 1\n[u]\n[t]\nb = 1\n", "[ t ]\n", "[[t]]\n",
        "[t] \n",
        "[t.]\n", "[a.b.c.d.e.f.g]\n", "a = 1\r\n", "\ufeffa = 1\n", "a\n", "= 1\n",
    ],
)  # fmt: skip
def test_anything_else_is_left_to_the_full_reader(text: str) -> None:
    """A list whose closing line ends the text without a line end is the writer's, too."""
    read = read_canonical(None, text.encode())
    if text == "a = [\n    1,\n]":
        assert read is not None
        return
    assert read is None


def test_neither_bytes_that_are_no_text_nor_too_many_of_them_are_read() -> None:
    assert read_canonical(None, b'a = "\xff"\n') is None
    longest = b"a = 1" + b"\n" * (MOST_BYTES - 5)
    assert read_canonical(None, longest) is not None
    assert read_canonical(None, longest + b"\n") is None


def test_the_shape_has_every_table_and_those_above_them() -> None:
    read = read_canonical(None, b"format = 7\n\n[a.b.c]\nx = 1\n\n[d]\n")
    assert read is not None
    assert (read[1].tables, read[1].format) == ({"a", "a.b", "a.b.c", "d"}, "7")


OLD = 'format = 2\n\n[a]\nx = 1\ny = "one"\n\n'
OLD += "[b]\nx = 1\nlist = [\n    1,\n    2,\n]\n\n[b.c]\nx = 1\n"


def compared(old: str, new: str) -> tuple[dict[str, str], dict[str, str]] | None:
    read = read_canonical("record", old.encode())
    assert read is not None
    found = changed_tables("record", [Canonical(old.encode(), read[1])], new.encode())
    return found and (found[0][0], found[1])


@pytest.mark.parametrize(
    ("old", "new", "before", "after"),
    [
        ("[a]\nx = 1", "[a]\nx = 2", {"a.x": "1"}, {"a.x": "2"}),
        ("[b.c]\nx = 1", "[b.c]\nx = 10", {"b.c.x": "1"}, {"b.c.x": "10"}),
        ('y = "one"', "y = 3.5", {"a.y": '"one"'}, {"a.y": "3.5"}),
        ('x = 1\ny = "one"', 'x = 2\ny = "two"',
         {"a.x": "1", "a.y": '"one"'}, {"a.x": "2", "a.y": '"two"'}),
        ('y = "one"\n', "", {"a.x": "1", "a.y": '"one"'}, {"a.x": "1"}),
        ('y = "one"\n', 'y = "one"\nz = 3\n',
         {"a.x": "1", "a.y": '"one"'}, {"a.x": "1", "a.y": '"one"', "a.z": "3"}),
        ('y = "one"\n', 'z = "one"\n',
         {"a.x": "1", "a.y": '"one"'}, {"a.x": "1", "a.z": '"one"'}),
        ("    2,\n", "    3,\n",
         {"b.x": "1", "b.list": "[1, 2]"}, {"b.x": "1", "b.list": "[1, 3]"}),
    ],
)  # fmt: skip
def test_what_differs_between_two_texts(
    old: str, new: str, before: dict[str, str], after: dict[str, str]
) -> None:
    """Only the tables in which something differs are told, and of those at least what differs."""
    assert old in OLD
    assert compared(OLD, OLD.replace(old, new, 1)) == (before, after)


def test_where_nothing_differs_nothing_is_told() -> None:
    assert compared(OLD, OLD) == ({}, {})


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("format = 2", "format = 3"),  # another format
        ("[a]", "[z]"),  # another table
        ("[b]\n", "[b]\n[q]\n"),
        ("\n[b.c]\nx = 1\n", ""),
        ("x = 1\ny", "x = 01\ny"),  # not as the writer would write it
        ("x = 1\ny", "x = -0\ny"),
        ("x = 1\ny", "x = 1 \ny"),
        ('"one"', '"\\u006fne"'),
        ('y = "one"', "x = 2"),  # twice
        ("x = 1\nlist", "c = 1\nlist"),  # a value where a table stands
        ("x = 1\nlist", "x = 1\nx = 1\nlist"),
    ],
)
def test_what_needs_the_full_reader_is_left_to_it(old: str, new: str) -> None:
    assert old in OLD
    assert compared(OLD, OLD.replace(old, new, 1)) is None


def test_bytes_that_are_no_text_are_left_to_it() -> None:
    read = read_canonical("record", OLD.encode())
    assert read is not None
    held = Canonical(OLD.encode(), read[1])
    assert changed_tables("record", [held], OLD.encode().replace(b"one", b"\xffne")) is None


def test_values_of_an_older_format_are_told_at_their_present_addresses() -> None:
    old = 'format = 1\n\n[jaws]\nplace = "rack 4"\nbite = 7\n'
    found = compared(old, old.replace("rack 4", "rack 5"))
    assert found == ({"jaws.kept_at": '"rack 4"'}, {"jaws.kept_at": '"rack 5"'})
    read = read_canonical("record", old.encode())
    assert read is not None
    assert read[0] == {"format": "2", "jaws.kept_at": '"rack 4"', "jaws.bite": "7"}
    assert read_canonical("record", (old + 'kept_at = "x"\n').encode()) is None  # both names
    assert read_canonical("cell", old.encode()) is not None
