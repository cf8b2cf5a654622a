"""Rules on figures: what does not fit, what is tight, and what cannot be told for want of a value.

What is missing is said once for a record, not for each figure, the most awaited
tables first; what a cell or the policy lacks is said of that file, not of every
record. A list that drowns in notes is read by nobody.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from engine.book import figures
from engine.cache import LruCache
from engine.checks.rule import Say, Says, rule
from engine.checks.view import CellView, DocumentView, RecordView
from engine.views import Figure
from engine.views.wording import figures as wording

MOST_TABLES = 3  # named of one record, cell or policy; the rest is counted
MOST_NAMED = 4  # values of one table
_LISTS_THEM = "`witnessmark figures {record}` shows formula, limit and margin of each figure."
_NOTABLE: LruCache[tuple[Figure, ...]] = LruCache(20_000)
_OWN_RULES = ("positions.", "record.cell")  # other rules tell of these


@rule("figure-does-not-fit", "error", "Correct the value or the limit. " + _LISTS_THEM)
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
    waiting = wording.waiting(_figures(view))
    own = {a: w for a, w in waiting.items() if ":" not in a and not a.startswith(_OWN_RULES)}
    yield from _in_one(own)


@rule(
    "cell-incomplete",
    "note",
    "A lead enters it: `witnessmark set {record} ADDRESS=VALUE`.",
    "cell",
)
def cell_incomplete(view: CellView) -> Says:
    """Figures of a cell's records wait for values that the cell does not have."""
    mine = [r for r in view.book.in_use() if f"cells/{r.model.record.cell}" == view.name]
    yield from _in_one(_awaited(mine, "cell:"))


@rule(
    "policy-incomplete",
    "note",
    "A lead decides: `witnessmark set book {address}=VALUE`.",
    "document",
)
def policy_incomplete(view: DocumentView) -> Says:
    """Figures wait for limits that the policy does not set."""
    awaited = _awaited(view.book.in_use(), "policy:") if view.name == "book" else {}
    if awaited:
        yield from _in_one({f"policy.{address}": found for address, found in awaited.items()})


def _figures(view: RecordView) -> tuple[Figure, ...]:
    """Figures of a record that do not plainly fit; none where its cell is unknown."""
    if view.cell is None:
        return ()
    key = figures.texts_of(view.session, view.document, view.model.record.cell)
    return _NOTABLE.get(key, lambda: _notable(view))


def _notable(view: RecordView) -> tuple[Figure, ...]:
    found = figures.of_document(view.session, view.document)
    notable = (f for f in found if f.verdict in ("does not fit", "tight", "cannot tell"))
    return tuple(replace(f, asked=[], asked_for_limit=[]) for f in notable)  # kept for many records


def _awaited(views: Iterable[RecordView], prefix: str) -> dict[str, list[Figure]]:
    """Figures of several records by the input that they miss, prefix taken off."""
    found: dict[str, list[Figure]] = {}
    for view in views:
        for address, waiting in wording.waiting(_figures(view)).items():
            if address.startswith(prefix):
                found.setdefault(address.removeprefix(prefix), []).extend(waiting)
    return found


def _in_one(waiting: Mapping[str, Sequence[Figure]]) -> Says:
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


def _count(groups: Iterable[Iterable[Figure]]) -> int:
    """How many figures there are in all, each counted once."""
    return len({id(figure) for figures in groups for figure in figures})


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
