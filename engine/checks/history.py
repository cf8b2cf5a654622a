"""Rules on the past: positions that came in outside the program, and lots left open."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from engine.book import rewritten
from engine.book import taken_out as gone
from engine.book.commit_words import line as in_one_line
from engine.book.overruled import FOLDER as ACKNOWLEDGED
from engine.book.overruled import overruled
from engine.book.session import Held
from engine.checks.book_view import BookView
from engine.checks.changes import changed_in, decided_in
from engine.checks.rule import RULES, Say, Says, gathered, rule
from engine.checks.view import DocumentView, RecordView
from engine.log.commits import Saved
from engine.log.diff import change
from engine.views.wording import count, day
from schemas.document import kind_of
from schemas.errors import ReadError
from schemas.log import Run, SignOff

LONG_RUN = timedelta(days=7)
MOST_NAMED = 4  # records with an open run on one cell
Known = Callable[[str], bool]  # whether a commit is a given one or in its past


@rule(rewritten.RULE, "error", rewritten.HINT, "book")
def past_rewritten(view: BookView) -> Says:
    """What this box knew as the book's head is not in its past, and no lead has acknowledged it."""
    for item in rewritten.lost(view.session):
        yield Say("", rewritten.in_words(item), rewritten.hint(item))


@rule(
    "position-by-hand",
    "error",
    "Compare it with the machine; a sign-off accepts it, `witnessmark restore {record} MARK "
    "{address} --reason TEXT` goes back.",
)
def position_by_hand(view: RecordView) -> Says:
    """A taught position was changed by a commit that the program did not make."""
    by_hand = [n for n, step in enumerate(view.life) if not step.saved.whole]
    accepted = _accepted(view) if by_hand else []
    later: set[str] = set()
    rests: dict[str, list[Known]] = {}
    for index in range(len(view.life) - 1, min(by_hand, default=len(view.life)) - 1, -1):
        saved = view.life[index].saved
        if any(known(saved.id) for known in accepted):
            continue
        _note_what_it_rests_on(view, index, rests)
        changed = [
            item
            for item in changed_in(view, index, _is_position)
            if item[0] not in later and all(known(saved.id) for known in rests.get(item[0], ()))
        ]
        later |= {address for address, _, _ in changed}
        if saved.whole:
            continue
        by = f"by commit {saved.id[:10]} ({saved.who.name}, {day(saved.when)}), made by hand"
        if not any(view.life[index].olds) and changed:
            yield Say("positions", f"{count(len(changed), 'value')} came with the record {by}")
            continue
        for address, old, new in changed:
            words = in_one_line(change(address, old, new, view.unit(address)))
            yield Say(address, f"{words.partition(': ')[2]} {by}")


def _is_position(address: str) -> bool:
    return address.startswith("positions.")


def _note_what_it_rests_on(view: RecordView, index: int, rests: dict[str, list[Known]]) -> None:
    """Of positions for which a sync decided: on which commits the value that stands rests.

    It was inked in one, or is older than both sides; what was changed beside that, by hand or
    not, does not stand.
    """
    step, past = view.life[index], view.session.past
    if len(step.olds) < 2 or not step.saved.whole:
        return
    for row in decided_in(view, index):
        if row.decided is None or not _is_position(row.address):
            continue
        known = rests.setdefault(row.address, [])
        if all(knows(step.saved.id) for knows in known):
            kept = row.decided.kept
            known += map(past.known_at, [kept] if kept else step.saved.parents)


def _accepted(view: RecordView) -> list[Known]:
    """What was there when the record was signed off, for each sign-off that this program made."""
    past = view.session.past
    view.leans_on("folder", f"signoffs/{view.held.key}")
    found = []
    for path, blob in view.session.entries.under(f"signoffs/{view.held.key}"):
        try:
            model = past.document(path, blob).model
        except ReadError:
            continue
        steps = past.life(path.removesuffix(".toml"))
        if isinstance(model, SignOff) and steps and all(step.saved.whole for step in steps):
            view.leans_on("commit", model.sign_off.commit)
            found.append(past.known_at(model.sign_off.commit))
    return found


@rule(rewritten.RULE_THERE, "error", rewritten.HINT_THERE, "book")
def meeting_point_rewritten(view: BookView) -> Says:
    """Where others meet, the past does not hold what this box saw there, and nobody joined it."""
    for words in rewritten.at_meeting_points(view.session):
        yield Say("", words)


@rule(
    "taken-out-and-changed",
    "warning",
    "Take it out again with `witnessmark set {record} {address}=`, or say that it stays: "
    "`witnessmark acknowledge COMMIT --reason TEXT`. To ink it anew decides, too.",
    "document",
)
def taken_out_and_changed(view: DocumentView) -> Says:
    """Something was taken out on one box and changed on another: it stands, and nobody decided."""
    view.leans_on("folder", ACKNOWLEDGED)
    for item in overruled(view.held, view.life):
        out, change = _by(item.removal), _by(item.change) if item.change else " by somebody"
        commit = item.removal.id[:10]
        what = item.entry or "the document"
        stays = f"`witnessmark acknowledge {commit} --reason TEXT`"
        again = f"`witnessmark set {view.name} {item.entry}=`"
        if not item.entry:
            again = f"`witnessmark retire {view.name} --reason TEXT`"
        yield Say(
            item.entry,
            f"{what} was taken out{out} and changed{change} meanwhile: it stays, changed",
            hint=f"{again} takes it out again, {stays} says that it stays; so does another ink.",
        )


def _by(saved: Saved) -> str:
    reason = f": {' '.join(saved.reason.split())}" if saved.reason else ""
    return f" by {saved.who.name} ({saved.id[:10]}{reason})"


@rule(
    "taken-out",
    "error",
    "`witnessmark restore {record} --reason TEXT` brings it back with its past; a record that is "
    "no longer wanted is retired.",
    "book",
)
def taken_out(view: BookView) -> Says:
    """A document was taken out of the book outside the program: its past is kept."""
    for held in gone.all_gone(view.session):
        by = gone.taken_out_by(held)
        where = f"by commit {by.id[:10]} ({by.who.name}, {day(by.when)})" if by else "in a merge"
        said = f"{held.name} ({held.key})" if held.is_record else held.name
        hint = RULES["taken-out"].hint.format(record=held.key)
        name = _owner(view, held) or held.name
        there = held.path in view.session.entries
        what = (
            "lost its place to a text with another identity, or none,"
            if there
            else ("was taken out of the book")
        )
        yield Say("", f"{said} {what} {where}", hint, name, held.path, 0)


def _owner(view: BookView, held: Held) -> str:
    """The record or cell that a run, a sign-off or an event belongs to."""
    kind, parts = kind_of(held.path), held.path.split("/")
    if kind == "event":
        return f"cells/{parts[1]}"
    return view.session.name_of_key(parts[1]) if kind in ("run", "sign-off") else ""


@gathered("open run")
def open_run(view: RecordView) -> object:
    """Number and start of the run that is open, its cell, and the line that says so."""
    view.leans_on("folder", f"runs/{view.held.key}")
    for path, blob in view.session.entries.under(f"runs/{view.held.key}"):
        try:
            model = view.session.past.document(path, blob).model
        except ReadError:
            continue
        if isinstance(model, Run) and model.end is None and model.steps:
            start = min(step.at for step in model.steps.values())
            at = view.line_of("record.cell")
            return [model.run.number, start.isoformat(), view.model.record.cell, at]
    return None


@rule(
    "run-left-open",
    "note",
    "`witnessmark run stop {record}` closes it with its counts.",
    "book",
    ("record",),
)
def run_left_open(view: BookView) -> Says:
    """A run has been open for more than a week."""
    for held, (number, start, _, _) in view.gathered(open_run):
        age = view.now - datetime.fromisoformat(start)
        if age > LONG_RUN:
            yield Say("", f"run {number} has been open for {age.days} days", document=held.name)


@rule(
    "two-runs-open",
    "warning",
    "`witnessmark run stop {record}` closes the one that is over.",
    "book",
    ("record",),
)
def two_runs_open(view: BookView) -> Says:
    """Two records have an open run on one cell, which runs one lot at a time."""
    by_cell: dict[str, list[tuple[Held, int, int]]] = {}
    for held, (number, _, cell, line) in view.gathered(open_run):
        by_cell.setdefault(cell, []).append((held, number, line))
    for cell, running in by_cell.items():
        names = [held.name for held, _, _ in running]
        for held, number, line in running if len(running) > 1 else ():
            others = _others(names, held.name)
            message = f"run {number} is open on {cell}, and so is one of {others}"
            yield Say("record.cell", message, document=held.name, line=line)


def _others(names: Sequence[str], mine: str) -> str:
    named = [name for name in names[: MOST_NAMED + 1] if name != mine][:MOST_NAMED]
    left = len(names) - 1 - len(named)
    return " and ".join([*named, *([f"{left} more"] if left else [])])
