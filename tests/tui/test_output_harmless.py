"""What leaves the program steers no terminal, loses nothing in a pipe, and is no formula."""

import csv
import io
import json
import os
import pty
import subprocess
import sys
import unicodedata
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.mini_book import SEAT, plain_git
from tests.shop_floor import logged_in
from tui.commands import output
from tui.safe import safe, spelt_out

BAD = "\x1b]0;t\x07\x9b31m\x7f\u202e\u2066\u200b\u2028\ufe0f\u00ad\ufff9\U000e0041\u115f\u2800"


def paired(text: str) -> str:
    """Two halves that make one sign are that sign, as for everything that reads JSON."""
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "surrogatepass")


ANY = st.one_of(
    st.text(st.characters()),
    st.text(st.sampled_from(BAD + "\t\r\n'\"\\,;=+-@＝＋－＠ a1é\u0301\ud800\udcff")),
).map(paired)
PROGRAM = [
    sys.executable,
    "-c",
    logged_in("mira") + "; import sys; from tui.main import main; sys.exit(main())",
]


def harmful(text: str) -> set[str]:
    """Signs of `text` that a terminal may not get; line ends between lines apart."""
    kinds = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
    more = "\ufe0f\u115f\u2800\u3164\u034f"
    return {s for s in text if s != "\n" and (unicodedata.category(s) in kinds or s in more)}


def printed(call) -> str:
    """What a call writes to standard output."""
    with pytest.MonkeyPatch.context() as patch:
        held = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="")
        patch.setattr(sys, "stdout", held)
        call()
        held.flush()
        return held.buffer.getvalue().decode()


def unspelt(cell: str) -> str:
    """A cell of text as it was, by the rule in docs/formats.md."""
    return json.loads('"' + cell.removeprefix("'").replace('"', '\\"') + '"')


@given(ANY, ANY)
def test_json_is_harmless_and_loses_nothing(one: str, two: str):
    for call in (
        lambda: output.put_json({"a": one, two: [two, {"b": one}]}),
        lambda: output.stream_json([{"a": one}, {two: two}]),
    ):
        text = printed(call)
        assert not harmful(text)
    assert json.loads(text)["items"] == [{"a": one}, {two: two}]


@given(ANY, ANY)
def test_csv_is_harmless_is_one_line_an_item_and_loses_nothing(one: str, two: str):
    rows = [{"a": one, "b": two, "c": [one]}, {"a": two, "b": "", "c": None}]
    for call in (lambda: output.put_csv(rows), lambda: output.stream_csv(rows)):
        text = printed(call)
        assert not harmful(text)
        assert text.count("\n") == 3
        assert "\r" not in text
        first, second = csv.DictReader(io.StringIO(text, newline=""))
        assert (unspelt(first["a"]), unspelt(first["b"])) == (one, two)
        assert json.loads(first["c"]) == [one]
        assert (unspelt(second["a"]), second["b"], second["c"]) == (two, "", "")


@given(ANY)
def test_text_is_harmless(text: str):
    for call in (lambda: output.put(text), lambda: output.put_table([["a"], [text]])):
        assert not harmful(printed(call))


@given(ANY)
def test_what_is_spelt_out_is_what_would_be_taken_away(text: str):
    assert not harmful(spelt_out(text).replace("\n", ""))
    if not harmful(text) and safe(text) == text:
        assert spelt_out(text) == text


@pytest.mark.parametrize("sign", "=+-@＝＋－＠﹢﹣﹦﹫−⁺\t\r\n")
@pytest.mark.parametrize(
    "front",
    ["", " ", "\u3000", "\ufeff", "\u200b", "\u00a0 ", "\u202e", "\x00", "\ufe0f", "\u0301"],
)
def test_no_cell_is_a_formula(front: str, sign: str):
    row = [{"a": f"{front}{sign}cmd|' /c calc'!A1"}]
    (cell,) = [r["a"] for r in csv.DictReader(io.StringIO(printed(lambda: output.put_csv(row))))]
    assert cell.startswith("'")
    assert unspelt(cell) == row[0]["a"]


@pytest.mark.parametrize("number", ["-3.5", "+0.150", "612.350", "-1e-07", "0"])
def test_numbers_stay_numbers(number: str):
    assert printed(lambda: output.put_csv([{"a": number}])) == f"a\n{number}\n"
    assert printed(lambda: output.put_csv([{"a": float(number)}])).count("'") == 0


@pytest.mark.parametrize("text", ["－3.5", "-٣", "-1-1", "+1+cmd", "--1", "1\n=2", "'=1"])
def test_what_only_looks_like_a_number_is_text(text: str):
    (cell,) = csv.reader(io.StringIO(printed(lambda: output.put_csv([{"a": text}])).split("\n")[1]))
    assert unspelt(cell[0]) == text
    if text[0] != "1":
        assert cell[0].startswith("'")


def on_a_terminal(*words: str, folder, **environment: str) -> bytes:
    """All that a command writes to a terminal."""
    ours, theirs = pty.openpty()
    environment = {**os.environ, "TERM": "dumb", **environment}
    with subprocess.Popen(
        [*PROGRAM, "--book", str(folder), *words],
        stdin=subprocess.DEVNULL, stdout=theirs, stderr=theirs, env=environment,
    ):  # fmt: skip
        os.close(theirs)
        said = b""
        with suppress(OSError):
            while piece := os.read(ours, 65536):
                said += piece
    os.close(ours)
    return said.replace(b"\r\n", b"\n")


@pytest.fixture
def hostile(little):
    """A book with bad signs wherever somebody can bring them in by plain git."""
    folder, path = little, f"records/{SEAT}.toml"
    text = (folder / path).read_text()
    words = BAD.replace("\x1b", "\\u001b").replace("\x07", "\\u0007")
    words = words.replace("\x9b", "\\u009b").replace("\x7f", "\\u007f")
    (folder / path).write_text(text.replace('"rack 4"', f'"{words}"').replace("148.900", "150.000"))
    (folder / f"records/bad{BAD}.toml").write_bytes(b"x = 1\n")
    (folder / os.fsdecode(b"photos/\xe9\x1b[2J.jpg")).write_bytes(b"x")
    plain_git(folder, "add", "-A")
    message = f"{BAD} subject\n\nKind: ink\nPerson: mira\nReason: {BAD}=1+1\n"
    who = f"--author=M{BAD}ira <mira{BAD}@witnessmark>"
    plain_git(folder, "commit", "-q", who, "-m", message)
    return folder


TEXT = (
    ["list"], ["check"], ["history"], ["marks", SEAT], ["show", SEAT],
    ["trace", SEAT, "jaws.kept_at"], ["diff", SEAT, "ink-1"], ["pencil"],
)  # fmt: skip
DATA = (["check"], ["history"], ["export-history"])


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_no_bad_sign_of_a_book_reaches_a_terminal(hostile, form: str):
    for words in TEXT if form == "text" else DATA:
        said = on_a_terminal(*words, "--format", form, folder=hostile).decode()
        assert not harmful(said), (words, said)
        assert "Traceback" not in said
        assert "unexpected" not in said


@pytest.mark.parametrize(
    "words",
    [
        [BAD], ["show", BAD], ["show", "--at", BAD, SEAT], ["set", SEAT, BAD],
        ["set", SEAT, f"jaws.id={BAD}"], ["set", SEAT, f"{BAD}=1"], ["--format", BAD, "list"],
        [f"--{BAD}"], ["init", BAD], ["trust", BAD], ["history", "--since", BAD], ["list", BAD],
        ["show", SEAT, "--as", BAD], ["sync", "--with", BAD], ["sheet", SEAT, "-o", f"{BAD}/x"],
        ["show", "\udce9"], ["sheet", SEAT, "-o", "-"], ["--help"], ["set", "--help"],
    ],
)  # fmt: skip
def test_words_of_the_command_line_are_said_again_without_harm(little, words, monkeypatch):
    monkeypatch.chdir(little.parent)  # some of them name files to be made
    words = [word.replace("\x00", "") for word in words]
    said = on_a_terminal(*words, folder=little).decode()
    assert said
    assert not harmful(said), said
    assert "Traceback" not in said


def test_another_encoding_gets_what_it_can_show(hostile):
    for form in ("text", "json", "csv"):
        said = on_a_terminal(
            "history", "--format", form, folder=hostile, PYTHONIOENCODING="ascii", LC_ALL="C"
        )
        assert said.isascii(), form
        assert b"unexpected" not in said, form
