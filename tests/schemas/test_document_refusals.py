"""Every refusal has a file, a line, an address and a hint; nothing nasty is much work."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.document import kind_of, name_of, path_of, read_document
from schemas.errors import ReadError
from schemas.lines import lay_out
from schemas.toml import MOST_BYTES, read_toml
from tests.counting import steps

HEAD = b'format = 2\n[record]\nid = "wm-abcdef"\npart = "x"\ncell = "c"\nunits = "mm"\n'
PATH = "records/a.toml"


def problems(data: bytes, path: str = PATH):
    with pytest.raises(ReadError) as caught:
        read_document(data, path)
    assert all(p.file == path and p.what and p.hint for p in caught.value.problems)
    assert caught.value.hint
    assert path in str(caught.value)
    return caught.value.problems


@pytest.mark.parametrize(
    ("text", "line", "address", "hint"),
    [
        (b"[jaws]\nbight = 3\n", 8, "jaws.bight", "bite"),
        (b"[jaw]\nbite = 3\n", 7, "jaw", "jaws"),
        (b"[positions.seat.more]\nreach = 3\n", 7, "positions.seat.more", ""),
        (b'[jaws]\nbite = "3"\n', 8, "jaws.bite", ""),
        (b"[jaws]\ncount = 2.5\n", 8, "jaws.count", ""),
        (b"[jaws]\nbite = nan\n", 8, "jaws.bite", ""),
        (b"[jaws]\nbite = -inf\n", 8, "jaws.bite", ""),
        (b"[jaws]\nbite = 1e400\n", 8, "jaws.bite", ""),
        (b"[jaws]\nbite = true\n", 8, "jaws.bite", ""),
        (b'[jaws]\nkind = "hand"\n', 8, "jaws.kind", ""),
        (b"[blank]\ndiameter = [3, 2]\n", 7, "blank", ""),
        (b"[blank]\ndiameter = [3]\n", 8, "blank.diameter", ""),
        (b'[tray]\nunused = ["r0c1"]\n', 8, "tray.unused", ""),
        (b"# words\n[tools.'T 1']\nlength = 1\n", 8, "tools.T 1", ""),
        ('[jaws]\nid = "C\u202e31"\n'.encode(), 8, "jaws.id", ""),
        (b'[jaws]\nid = "C\\u001b31"\n', 8, "jaws.id", ""),
        (b'[jaws]\nid = "a\\nb"\n', 8, "jaws.id", ""),
        (b'[notes]\ntext = "a\\u0000b"\n', 8, "notes.text", ""),
        (b"[notes]\ntext = '" + b"x" * 20_001 + b"'\n", 8, "notes.text", ""),
    ],
)
def test_a_refusal_names_the_line_and_the_address(text, line, address, hint):
    (found,) = problems(HEAD + text)
    assert (found.line, found.address) == (line, address)
    assert hint in found.hint
    assert f"{PATH}:{line} {address}: " in str(found)


def test_all_reasons_are_told_at_once():
    found = problems(HEAD.replace(b'part = "x"\n', b"") + b"[jaws]\nbight = 1\nbite = false\n")
    assert [p.address for p in found] == ["record.part", "jaws.bight", "jaws.bite"]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (b"x = ", 7),
        (b"[jaws\n", 7),
        (b"\n\nid = 1\nid = 2\n", 9),
        (b"x = 1e99999999999999999999\n", 7),
        (b"a = 1\nx = -1e-99999999999999999999\n", 8),
        (b"x = 2026-13-01\n", 7),
        (b"x = 25:00:00\n", 7),
        (b'x = "\\q"\n', 7),
        (b"x = 0x" + b"f" * 900_000, 7),
        (b"x = " + b"9" * 900_000, 7),
        (b"x = 0." + b"1_" * 400_000 + b"1\n", 7),
        (b"\0", 7),
        (b"x = \x1b\n", 7),
        (b"\xff\xfe", 7),
        (b'x = """' + b"never ended\n" * 9, 0),
        (b"a.b = 1\na.b.c = 2\n", 0),
    ],
)
def test_what_is_no_toml_names_the_line(text, line):
    (found,) = problems(HEAD + text)
    assert found.line == line or (not line and found.line >= 7)


# Hostile texts by a number that grows them; at 1,000,000 each is nearly as long as a file may be.
NASTY: list[Callable[[int], bytes]] = [
    lambda n: b"[notes]\n" + b"a." * (n // 10) + b"a = 1\n",
    lambda n: b"[notes]\nx = {" + b"a." * (n * 4 // 10) + b"a = 1}\n",
    lambda n: b"[notes]\nx = {" + b'"a".' * (n // 5) + b"a = 1}\n",
    lambda n: b"[notes]\nx = {b = 1, " + b"a ." * (n // 5) + b"a = 1}\n",
    lambda n: b"[" + b"a." * (n // 5) + b"a]\n",
    lambda n: b"x = " + b"[" * (n * 4 // 10),
    lambda n: b"x = " + b"{a=" * (n // 5),
    lambda n: b'x = "' + b'\\"' * (n * 4 // 10),
    lambda n: b'x = """' + b'\\"""' * (n // 5),
    lambda n: b"x = '''" + b"''x" * (n * 3 // 10),
    lambda n: b"x = " + b"'" * (n * 9 // 10 + 1),
    lambda n: b'x = "' + b"\\" * (n * 9 // 10 + 1),
    lambda n: b"#" * (n * 9 // 10),
    lambda n: b"\n" * (n * 9 // 10) + b"x",
    lambda n: b"[" * 100 + b"\n" * (n * 9 // 10),
    lambda n: b"[tools]\n" + b"".join(b"T%d.what = 5\n" % k for k in range(n // 25)),
    lambda n: b"".join(b"k%d = 1\n" % k for k in range(n // 25)),
]


def _refused(data: bytes) -> None:
    if data.startswith(b"###"):
        read_document(HEAD + data, PATH)
    else:
        problems(HEAD + data)


@pytest.mark.parametrize("make", NASTY, ids=lambda make: repr(make(50)[:24]))
def test_nothing_nasty_is_more_work_than_its_length(make):
    _refused(make(1_000_000))
    short, long = (steps(lambda n=n: _refused(make(n))) for n in (10_000, 40_000))
    assert long < 5 * short  # four times the text


def test_a_megabyte_is_the_most():
    assert read_document(HEAD + b"#" * (MOST_BYTES - len(HEAD)), PATH)
    (found,) = problems(HEAD + b"#" * (MOST_BYTES - len(HEAD) + 1))
    assert "bytes" in found.what


def test_line_ends_and_marks_of_windows_are_read():
    plain = read_document(HEAD, PATH)
    assert read_document(b"\xef\xbb\xbf" + HEAD.replace(b"\n", b"\r\n"), PATH).bytes == plain.bytes


@given(st.binary(max_size=60) | st.text(max_size=60).map(lambda t: t.encode("utf-8", "replace")))
def test_any_bytes_are_read_or_refused(data):
    for path in (PATH, "people.toml"):
        try:
            read_document(data, path)
        except ReadError as error:
            assert error.problems  # noqa: PT017


@given(st.text("[]{}=.\"'#\\\n ,a1-:T", max_size=60))
def test_any_near_toml_is_read_or_refused(text):
    for data in (text.encode(), HEAD + text.encode()):
        try:
            parsed = read_toml(data, PATH)
        except ReadError:
            continue
        comments = [words for _, _, words in parsed.layout.comments]
        assert all(words in data.decode() for words in comments)


def test_comments_are_found_with_their_place():
    text = (
        '# top\na = "#no" # one\nb = """\n# no\n""" # two\n'
        "c = [1, # three\n2]\n[t] # four\n'd' = '''# no'''\n#\n# five\ne = \"\\\"# no\"\n"
    )
    assert lay_out(text).comments == [
        (1, "", "top"),
        (2, "a", "one"),
        (5, "b", "two"),
        (6, "c", "three"),
        (8, "t", "four"),
        (11, "t.d", "five"),
    ]


def test_strings_that_end_in_quotes_do_not_hide_a_comment():
    text = 'a = """x"""" # one\nb = """""" # two\nc = \'\'\'y\'\'\'\'\' # three\nd = "" # four\n'
    assert [words for _, _, words in lay_out(text).comments] == ["one", "two", "three", "four"]


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("records/a.toml", "record"),
        ("records/x/a.toml", None),
        ("cells/a.toml", "cell"),
        ("runs/wm-1/a.toml", "run"),
        ("runs/a.toml", None),
        ("book.toml", "book"),
        ("a.toml", None),
        ("records/a.txt", None),
        ("people.toml", "people"),
        ("events/c/a.toml", "event"),
    ],
)
def test_the_kind_of_a_path(path, kind):
    assert kind_of(path) == kind


def test_what_is_no_file_of_a_book_is_refused():
    problems(b"", "elsewhere/a.toml")


@pytest.mark.parametrize("name", ["a", "cells/a", "people", "book", "a-1.x_Y"])
def test_names_and_paths_are_inverse(name):
    assert name_of(path_of(name)) == name


@pytest.mark.parametrize(
    "name", ["", "../a", "a/b/c", "runs/a", ".a", "a b", "a\n", "a" * 65, "a.toml"]
)
def test_a_bad_name_has_no_path(name):
    with pytest.raises(ValueError, match=r"name|folder"):
        path_of(name)
