"""The fast reader of canonical texts says what the full one says, or nothing at all."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.log import canonical_text
from engine.log.canonical_text import Canonical, changed_tables, read_canonical, spell, unspell
from engine.log.document_cache import read_quickly, record_id, spelt_slowly
from engine.log.tidied_text import tidied
from schemas.address import Value, flatten, same_value
from schemas.document import MODELS, check_tree, kind_of, read_document, read_tree
from schemas.errors import ReadError
from tests.benchmarks import by_hand
from tests.benchmarks.by_hand import Way
from tests.schemas.any_document import PATHS, trees

DEMO = sorted((Path(__file__).parents[3] / "demo_jobs").glob("*/*.toml"))


def in_format_1(file: Path) -> bytes:
    """A document as it would stand in format 1."""
    text = file.read_bytes()
    if file.parent.name != "records":
        return text
    return text.replace(b"format = 2\n", b"format = 1\n").replace(b"\nkept_at = ", b"\nplace = ")


def full(data: bytes, path: str) -> canonical_text.Spelt | None:
    """What the slow way says: the document's values, or those of the bare text."""
    try:
        return spelt_slowly(read_document(data, path).values)
    except ReadError:
        try:
            return spelt_slowly(flatten(read_tree(data, path)[0]))
        except ReadError:
            return None


@given(st.sampled_from(sorted(MODELS)).flatmap(lambda kind: st.tuples(st.just(kind), trees(kind))))
def test_every_canonical_document_is_read_alike(made: tuple[str, dict[str, object]]) -> None:
    kind, tree = made
    path = PATHS[kind]  # type: ignore[index]
    try:
        data = check_tree(tree, path).bytes
    except ReadError:
        return
    quick = read_canonical(kind, data)
    if quick is not None:
        assert quick[0] == full(data, path)


@given(st.randoms(use_true_random=False), st.sampled_from(DEMO))
def test_spoilt_texts_are_read_alike_or_not_at_all(dice: random.Random, file: Path) -> None:
    data = bytearray(dice.choice([file.read_bytes(), in_format_1(file)]))
    bits = [b"\n", b"[", b"]", b'"', b"=", b"-", b"0", b"\\", b" ", b"#", b"\xff", b"\r", b"."]
    for _ in range(dice.randint(1, 3)):
        place = dice.randrange(len(data))
        data[place : place + dice.randint(0, 2)] = dice.choice(bits)
    path = f"{file.parent.name}/{file.name}"
    quick = read_canonical(kind_of(path), bytes(data))
    if quick is not None:
        assert quick[0] == full(bytes(data), path)


@given(st.randoms(use_true_random=False), st.sampled_from(DEMO))
def test_tidied_texts_say_what_the_texts_say(dice: random.Random, file: Path) -> None:
    """Texts of hands, spoilt by a few bits: tidied, they are read alike or not at all."""
    path = f"{file.parent.name}/{file.name}"
    data = dice.choice([file.read_bytes(), in_format_1(file)]).decode()
    if dice.random() < 0.8:
        data = by_hand.rewritten(data, dice)
    spoilt = bytearray(data.encode())
    bits = [b"\n", b"[", b"]", b'"', b"=", b"-", b"#", b"\xff", b"\r", b"'", b'"""', b"\t",
            b"\x01", b" # x\n", b"\n# y\x7f\n", b"[1]\n", b"\n[a]\n", b"= 1e3",
            b"'#'"]  # fmt: skip
    for _ in range(dice.choice([0, 0, 1, 2, 3])):
        place = dice.randrange(len(spoilt))
        spoilt[place : place + dice.randint(0, 2)] = dice.choice(bits)
    made = tidied(bytes(spoilt))
    quick = read_canonical(kind_of(path), made) if made is not None else None
    if quick is not None:
        assert quick[0] == full(bytes(spoilt), path)


@given(st.randoms(use_true_random=False), st.sampled_from(DEMO))
def test_whose_a_text_is_does_not_depend_on_its_layout(dice: random.Random, file: Path) -> None:
    path = f"records/{file.name}"
    text = file.read_text()
    by = by_hand.rewritten(text, dice)
    assert record_id(path, by.encode()) == record_id(path, text.encode())


@given(st.randoms(use_true_random=False), st.sampled_from(DEMO))
def test_a_document_that_is_read_quickly_is_the_one_that_is_read_in_full(
    dice: random.Random, file: Path
) -> None:
    path = f"{file.parent.name}/{file.name}"
    lines = dice.choice([file.read_bytes(), in_format_1(file)]).split(b"\n")
    for _ in range(dice.choice([0, 1, 2])):
        n = dice.randrange(len(lines))
        table = dice.choice([b"[nobody]", b"[fingers.blank.x]", b"[positions.new]", b"[]"])
        value = dice.choice(
            [b"x = 1", b"bite = 7", b'part = "A"', b"count = 2.0", b"retired = true"]
        )
        lines[n : n + dice.randrange(2)] = [dice.choice([table, value])]
    data = b"\n".join(lines)
    quick = read_quickly(data, path)
    if quick is not None:
        slow = read_document(data, path)
        assert quick == slow
        assert list(quick.values.items()) == list(slow.values.items())
        assert quick.bytes == slow.bytes


def test_the_demo_is_read_quickly_as_a_whole() -> None:
    """Else the test before this one would compare nothing."""
    assert all(read_quickly(f.read_bytes(), f"{f.parent.name}/{f.name}") for f in DEMO)


@pytest.mark.parametrize("way", by_hand.WAYS, ids=lambda way: way.__name__)
def test_what_hands_write_is_read_fast(way: Way) -> None:
    dice = random.Random(11)
    for file in DEMO:
        kind = kind_of(f"{file.parent.name}/{file.name}")
        made = tidied(way(file.read_text(), dice).encode())
        assert made is not None
        assert read_canonical(kind, made) is not None


@given(st.randoms(use_true_random=False), st.sampled_from(DEMO))
def test_what_differs_is_found_table_by_table(dice: random.Random, file: Path) -> None:
    old = dice.choice([file.read_bytes(), in_format_1(file)])
    lines = old.split(b"\n")
    for _ in range(dice.randint(1, 3)):
        n = dice.randrange(len(lines))
        act = dice.randrange(5)
        if act == 0:
            lines[n : n + 1] = []
        elif act == 1:
            lines.insert(n, dice.choice(lines))
        elif b" = " in lines[n]:
            key, _, value = lines[n].partition(b" = ")
            key = dice.choice([key, key, b"kept_at", b"place"])
            wanted = [b"1.5", b'"x"', b"[]", value + b"0", b"-0.0", b"007", b"true", b"# no"]
            lines[n] = key + b" = " + dice.choice(wanted)
    new = b"\n".join(lines)
    path = f"{file.parent.name}/{file.name}"
    kind = kind_of(path)
    whole = read_canonical(kind, old)
    assert whole is not None
    both = changed_tables(kind, [Canonical(old, whole[1])], new)
    if both is None:
        return
    found, after = (both[0][0], both[1]), full(new, path)
    assert after is not None, "a text that cannot be read must be left to the full reader"
    differ = {a for a in {**whole[0], **after} if whole[0].get(a) != after.get(a)}
    told = {a for a in {**found[0], **found[1]} if found[0].get(a) != found[1].get(a)}
    assert told == differ
    assert all(found[0].get(a) == whole[0].get(a) for a in told)
    assert all(found[1].get(a) == after.get(a) for a in told)


@pytest.mark.parametrize("file", DEMO, ids=lambda file: file.stem)
def test_the_demo_is_read_fast(file: Path) -> None:
    kind = kind_of(f"{file.parent.name}/{file.name}")
    present = read_canonical(kind, file.read_bytes())
    assert present is not None
    assert read_canonical(kind, in_format_1(file)) == (
        present[0],
        replace(present[1], format="1"),
    )


_ODD = st.recursive(
    st.booleans() | st.text(max_size=8) | st.integers(-(10**40), 10**40)
    | st.decimals(allow_nan=False, allow_infinity=True) | st.datetimes() | st.dates() | st.times(),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text(max_size=4), inner, max_size=2),
    max_leaves=6,
)  # fmt: skip


@given(_ODD)
def test_whatever_toml_can_hold_comes_back(value: Value) -> None:
    text = spell(value)
    assert "\n" not in text
    assert "\x1f" not in text
    back = unspell(text)
    assert back == value or same_value(back, value)


def test_two_spellings_of_a_number_are_one_value() -> None:
    assert not canonical_text.differ("28", "28.0")
    assert canonical_text.differ("28", '"28"')
    assert canonical_text.differ(None, "0")
    assert unspell("104.250") == Decimal("104.250")
    assert str(unspell("104.250")) == "104.250"
