"""What changed on one line, word by word; texts are as typed, printable and short.

Two words of one letter belong together; G and M words are compared as sets.
Numbers are compared as Decimals, so 200 and 200.0 are equal, and their other
spelling is a change of its own kind.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from .interpret import OFFSETS
from .program import ENDS
from .words import ProgramLine, Word, read_line

TEXT_LIMIT = 80
KINDS = {"F": "feed", "S": "speed", "T": "tool", "H": "tool_offset", "D": "tool_offset"}
KINDS |= dict.fromkeys("XYZABCUVWIJKR", "motion")
NAMES = {"feed": "feed", "speed": "speed", "tool": "tool", "tool_offset": "tool offset"}


class WordChange(NamedTuple):
    """Kind (see `compare.ProgramChange`), what it is called, what it was and is."""

    kind: str
    name: str
    old: str
    new: str


def decoded(raw: bytes) -> str:
    """A line to be shown: printable characters only, at most `TEXT_LIMIT` of them."""
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    return shown(text)


def shown(text: str) -> str:
    """Text of the program made safe to show."""
    text = text.replace("\t", " ")[: TEXT_LIMIT + 1]
    text = "".join(char if char.isprintable() else "?" for char in text).strip()
    return text if len(text) <= TEXT_LIMIT else text[: TEXT_LIMIT - 1] + "~"


def line_changes(old_raw: bytes, new_raw: bytes) -> list[WordChange]:
    """Changes between two lines that differ; never empty.

    "renumbered" and "layout" only where every word is the same; what cannot be
    told word by word is one change of kind "line".
    """
    old, new = (read_line(_text(raw)) for raw in (old_raw, new_raw))
    whole = [WordChange("line", "", decoded(old_raw), decoded(new_raw))]
    unread = [[problem.reason for problem in line.problems] for line in (old, new)]
    if old.percent != new.percent or unread[0] != unread[1]:
        return whole
    if old.words and new.words and not _akin(old, new):
        return whole
    found = [*_codes(old, new), *_values(old, new), *_marks(old, new)]
    if found:
        return found
    if old.problems or new.problems or _bag(old) != _bag(new):
        return whole
    if old.n != new.n:
        return [WordChange("renumbered", "N", str(old.n), str(new.n))]
    return [WordChange("layout", "", "", "")]


def _bag(line: ProgramLine) -> list[tuple[str, str]]:
    """All words, in no order: the order of words has no meaning (NISTIR 6556, 3.3.5)."""
    return sorted((w.letter, w.code if w.letter in "GM" else w.text) for w in line.words)


def _text(raw: bytes) -> str:
    raw = raw.removeprefix(b"\xef\xbb\xbf")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _akin(old: ProgramLine, new: ProgramLine) -> bool:
    """Whether the lines have a letter in common, so that one may have become the other."""
    return not {w.letter for w in old.words}.isdisjoint(w.letter for w in new.words)


def _codes(old: ProgramLine, new: ProgramLine) -> Iterator[WordChange]:
    """G and M codes that came or went."""
    before, after = ([w.code for w in line.words if w.letter in "GM"] for line in (old, new))
    gone = [code for code in before if code not in after]
    come = [code for code in after if code not in before]
    for kind, group in (("offset", OFFSETS), ("end", ENDS)):
        out, into = ([c for c in codes if c in group] for codes in (gone, come))
        if out or into:
            name = "work offset" if kind == "offset" else "end code"
            yield WordChange(kind, name, " ".join(out), " ".join(into))
    out, into = ([c for c in codes if c not in OFFSETS | ENDS] for codes in (gone, come))
    if out or into:
        yield WordChange("code", "code", " ".join(out), " ".join(into))


def _values(old: ProgramLine, new: ProgramLine) -> Iterator[WordChange]:
    """Words of all other letters."""
    before, after = (
        {w.letter: w for w in line.words if w.letter not in "GM"} for line in (old, new)
    )
    for letter in {**before, **after}:
        one, other = before.get(letter), after.get(letter)
        if (one and one.text) == (other and other.text):
            continue
        kind = KINDS.get(letter, "word")
        if one and other and one.value is not None and one.value == other.value:
            kind = "spelling"
        yield WordChange(kind, NAMES.get(kind, kind), _typed(one), _typed(other))


def _typed(word: Word | None) -> str:
    return shown(word.letter + word.text) if word is not None else ""


def _marks(old: ProgramLine, new: ProgramLine) -> Iterator[WordChange]:
    """Block delete, O number, what is not evaluated, comments."""
    if old.block_delete != new.block_delete:
        yield WordChange("block_delete", "block delete", *_slashes(old, new))
    if old.o != new.o:
        names = ["" if line.o is None else f"O{line.o}" for line in (old, new)]
        yield WordChange("program", "program number", *names)
    for kind in ("parameter", "flow"):
        texts = [
            shown(" ".join(i.text for i in line.not_evaluated if i.kind == kind))
            for line in (old, new)
        ]
        if texts[0] != texts[1]:
            yield WordChange("expression", kind, *texts)
    comments = [" ".join(f"({c.text})" for c in line.comments) for line in (old, new)]
    if comments[0] != comments[1]:
        yield WordChange("comment", "comment", *map(shown, comments))


def _slashes(old: ProgramLine, new: ProgramLine) -> tuple[str, str]:
    return ("/" if old.block_delete else "", "/" if new.block_delete else "")
