"""What hands do to the text of a record between two saves of the program.

Each way of writing keeps the values, or spoils few of them, as in a shop where somebody
opens a record in an editor: none of the results is as our own writer spells it.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable

Way = Callable[[str, random.Random], str]
AUTHORS = (
    "Petr Anders <petr.anders@shop.example>",
    "Yuki <yuki@cell-4.local>",
    "setter <root@box>",
)
ODD = ("nan", "1e3", "+5.5", "0x1f", "'7.5'", "1_000", "07:15:00", "-0.0", "true", '"by feel"')
_VALUE = re.compile(r"^[a-z_0-9]+ = -?[0-9][0-9.]*$")
_LIST = re.compile(r" = \[\n((?:    [^\n]*,\n)+)\]")


def rewritten(text: str, dice: random.Random) -> str:
    """A text as one of several hands leaves it; once in a while it is no TOML any more."""
    for way in dice.sample(WAYS, dice.choice((1, 1, 2, 3))):
        text = way(text, dice)
    chance = dice.random()
    if chance < 0.06:
        return odd(text, dice)
    if chance < 0.07:
        return broken(text, dice)
    return unknown(text, dice) if chance < 0.08 else text


def aligned(text: str, dice: random.Random) -> str:
    """Every equals sign in one column."""
    del dice
    return "\n".join(
        f"{key:<22} = {value}" if equals and not key.startswith(" ") else line
        for line in text.split("\n")
        for key, equals, value in (line.partition(" = "),)
    )


def commented(text: str, dice: random.Random) -> str:
    """Notes on lines of their own and behind values."""
    lines = text.split("\n")
    for n in dice.sample(range(len(lines)), min(6, len(lines))):
        if _VALUE.match(lines[n]):
            lines[n] += "   # checked, " + dice.choice(("late shift", "new jaws", "see the sheet"))
        elif lines[n].startswith("["):
            lines[n] = (
                f"# -- {dice.choice(('do not touch', 'as on paper', 'ask Petr'))} --\n{lines[n]}"
            )
    return "\n".join(lines)


def windows(text: str, dice: random.Random) -> str:
    """Line ends of another system."""
    del dice
    return text.replace("\r\n", "\n").replace("\n", "\r\n")


def short_lists(text: str, dice: random.Random) -> str:
    """Lists on one line."""
    del dice
    return _LIST.sub(lambda m: " = [" + " ".join(m[1].split())[:-1] + "]", text)


def other_order(text: str, dice: random.Random) -> str:
    """Tables in another order."""
    head, *tables = re.split(r"\n(?=\[)", text.rstrip() + "\n")
    first = tables[:1]  # the record's own stays first, as people leave it
    rest = tables[1:]
    dice.shuffle(rest)
    return "\n".join([head, *first, *(table.rstrip("\n") + "\n" for table in rest)])


def spaced(text: str, dice: random.Random) -> str:
    """Tabs, spaces at the ends of lines, no space around equals signs."""
    lines = text.split("\n")
    for n in dice.sample(range(len(lines)), min(25, len(lines))):
        if _VALUE.match(lines[n]):
            lines[n] = dice.choice(("\t{}", "  {}", "{}  ", "{}\t")).format(lines[n])
            lines[n] = lines[n].replace(" = ", dice.choice(("=", " =", "  =  ")))
    return "\n".join(lines)


def odd(text: str, dice: random.Random) -> str:
    """A value that its field cannot hold, or holds otherwise spelt."""
    lines = text.split("\n")
    places = [n for n, line in enumerate(lines) if _VALUE.match(line)]
    if places:
        n = dice.choice(places)
        lines[n] = f"{lines[n].partition(' = ')[0]} = {dice.choice(ODD)}"
    return "\n".join(lines)


def broken(text: str, dice: random.Random) -> str:
    """No TOML: what a merge leaves, or half a line."""
    cut = dice.randrange(len(text) // 2, len(text))
    mark = dice.choice(("\n<<<<<<< HEAD\n", "\nlift 12.5\n", '\nkind = "vice\n'))
    place = text.find("\n", cut)
    return text[:place] + mark + text[place + 1 :] if place > 0 else text + mark


def unknown(text: str, dice: random.Random) -> str:
    """A key that the program does not know."""
    del dice
    return text.rstrip() + '\nremember = "ask on Monday"\n'


WAYS: tuple[Way, ...] = (aligned, commented, windows, short_lists, other_order, spaced)
