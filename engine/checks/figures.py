"""Rules on figures: what does not fit, what is tight, and what cannot be told for want of a value.

What is missing is said once for a record, not for each figure, the most awaited
tables first; what a cell or the policy lacks is said of that file, not of every
record. A list that drowns in notes is read by nobody.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from engine.book import figures
from engine.checks.book_view import BookView
from engine.checks.rule import Say, Says, gathered, rule
from engine.checks.view import RecordView
from engine.figures import all_figures
from engine.views import Figure
from engine.views.wording import figures as wording

MOST_TABLES = 3  # named of one record, cell or policy; the rest is counted
MOST_NAMED = 4  # values of one table
_LISTS_THEM = "`witnessmark figures {record}` shows formula, limit and margin of each figure."
_OWN_RULES = ("positions.", "record.cell")  # other rules tell of these
_ELSEWHERE = ("cell:", "policy:")


@rule(
    "figure-does-not-fit",
    "error",
    "Find out what is wrong; only a lead changes a limit, with a reason. " + _LISTS_THEM,
)
def figure_does_not_fit(view: RecordView) -> Says:
    """A figure of a record passes its limit."""
    for figure in wording.worst_first(_figures(view)):
        if figure.verdict == "does not fit" and not _beyond_travel(figure):
            yield Say(figure.look_at, f"does not fit: {wording.figure_in_words(figure)}")


@rule("figure-tight", "note", "It fits, with little left. " + _LISTS_THEM)
def figure_tight(view: RecordView) -> Says:
    """A figure of a record keeps its limit with little margin."""
    for figure in wording.worst_first(_figures(view)):
        if figure.verdict == "tight":
            yield Say(figure.look_at, f"tight: {wording.figure_in_words(figure)}")


@rule("figure-cannot-tell", "note", "Enter it. " + _LISTS_THEM)
def figure_cannot_tell(view: RecordView) -> Says:
    """Figures of a record wait for values that it does not have."""
    awaited = _awaited(map(_misses, _figures(view)))
    own = {a: w for a, w in awaited.items() if ":" not in a and not a.startswith(_OWN_RULES)}
    yield from _in_one(own)


@gathered("awaits")
def awaits(view: RecordView) -> object:
    """Its cell, and what each figure that waits for cell or policy misses there."""
    missing = (_misses(figure) for figure in _figures(view))
    elsewhere = ([a for a in addresses if a.startswith(_ELSEWHERE)] for addresses in missing)
    told = Counter(" ".join(addresses) for addresses in elsewhere if addresses)
    return [view.model.record.cell, told] if told else None


@rule(
    "cell-incomplete",
    "note",
    "A lead enters it: `witnessmark set {record} ADDRESS=VALUE`.",
    "book",
    ("cell",),
)
def cell_incomplete(view: BookView) -> Says:
    """Figures of a cell's records wait for values that the cell does not have."""
    by_cell: dict[str, Counter[str]] = {}
    for _, (cell, missing) in view.gathered(awaits):
        by_cell.setdefault(cell, Counter()).update(missing)
    for cell, missing in by_cell.items():
        for say in _in_one(_awaited(_each(missing), "cell:")):
            yield replace(say, document=f"cells/{cell}")


@rule(
    "policy-incomplete",
    "note",
    "A lead decides: `witnessmark set book {address}=VALUE`.",
    "book",
    ("book",),
)
def policy_incomplete(view: BookView) -> Says:
    """Figures wait for limits that the policy does not set."""
    missing: Counter[str] = Counter()
    for _, (_, told) in view.gathered(awaits):
        missing.update(told)
    awaited = _awaited(_each(missing), "policy:")
    yield from _in_one({f"policy.{address}": found for address, found in awaited.items()})


def _figures(view: RecordView) -> tuple[Figure, ...]:
    """Figures of a record that do not plainly fit; none where its cell is unknown."""
    view.leans_on("ink", "book.toml")
    return view.once("figures", lambda: _notable(view)) if view.cell is not None else ()


def _notable(view: RecordView) -> tuple[Figure, ...]:
    found = all_figures(figures.facts_of(view.session, view.model))
    return tuple(f for f in found if f.verdict in ("does not fit", "tight", "cannot tell"))


def _each(missing: Counter[str]) -> Iterator[list[str]]:
    """What each figure misses, of inputs in one text by how many figures miss just those."""
    return (addresses.split() for addresses in missing.elements())


def _misses(figure: Figure) -> Sequence[str]:
    """Inputs that a figure waits for."""
    return figure.missing if figure.verdict == "cannot tell" else ()


def _awaited(missing: Iterable[Sequence[str]], prefix: str = "") -> dict[str, list[int]]:
    """Figures, each by a number of its own, by the input that they miss, most awaited first.

    Of inputs that begin with a prefix, which is taken off.
    """
    found: dict[str, list[int]] = {}
    for number, addresses in enumerate(missing):
        for address in addresses:
            if address.startswith(prefix):
                found.setdefault(address.removeprefix(prefix), []).append(number)
    return dict(sorted(found.items(), key=lambda item: -len(item[1])))


def _in_one(waiting: Mapping[str, Sequence[int]]) -> Says:
    """One thing to say for all that is missing: table by table, the most awaited first."""
    if not waiting:
        return
    tables: dict[str, list[str]] = {}
    for address in waiting:
        tables.setdefault(address.rpartition(".")[0], []).append(address)
    counts = {table: _count(waiting[address] for address in tables[table]) for table in tables}
    ordered = sorted(tables, key=lambda table: -counts[table])
    words = [f"{_lacks(table, tables[table])} ({counts[table]})" for table in ordered[:MOST_TABLES]]
    left = sum(len(tables[table]) for table in ordered[MOST_TABLES:])
    more = f"; and {left} more values" if left else ""
    all_of_them = _count(waiting.values())
    what = "1 figure" if all_of_them == 1 else f"{all_of_them} figures"
    yield Say(tables[ordered[0]][0], f"{what} cannot be told: {'; '.join(words)}{more}")


def _count(groups: Iterable[Iterable[int]]) -> int:
    """How many figures there are in all, each counted once."""
    return len({figure for figures in groups for figure in figures})


def _lacks(table: str, addresses: Sequence[str]) -> str:
    keys = _named([address.rpartition(".")[2] for address in addresses])
    return f"{table} lacks {keys}" if table else f"{keys} is missing"


def _named(names: Sequence[str]) -> str:
    left = len(names) - MOST_NAMED
    text = ", ".join(names[:MOST_NAMED])
    return f"{text} and {left} more" if left > 0 else text


def _beyond_travel(figure: Figure) -> bool:
    """Whether a taught value lies outside the travel itself: the rule outside-travel tells."""
    taught = figure.look_at.startswith("positions.")
    return figure.group == "reach" and taught and (figure.value or 0.0) < 0
