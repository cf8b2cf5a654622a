"""The book's list: one line for each record, and for each that cannot be read.

One bad file never keeps the others from opening; it stands in the list with its
problems. A record on disk that was never inked is listed as such. What a line says
is kept with all that it leans on, so that a long list is read once. Who will not wait
is told what is known: names at least, and of the rest that it is not known yet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any

from engine.book import pencilling, sign_offs
from engine.book.comparing import DocumentPast
from engine.book.linked_files import links_of
from engine.book.revisions import merge_mark
from engine.book.run_log import RunLog
from engine.book.session import Held, Session
from engine.drafts import by_hand
from engine.log.past import DocumentChange
from engine.views import Confirmed, Draft, Finding, Listed, Mark, RunState
from schemas.address import Tree
from schemas.document import name_of
from schemas.errors import Problem, ReadError
from schemas.record import Record

_LINE = "line"
NEVER_INKED = "this file is on disk only and was never inked"
Findings = Mapping[str, Iterable[Finding]]  # by record name


def list_records(
    session: Session, findings: Findings | None, *, retired: bool, wait: bool = True
) -> list[Listed]:
    """Records by name, with their findings (None: not known yet).

    Without `wait` nothing is read that was not read before: a line may then be unknown.
    """
    session.sources.look_again()
    last = session.past.last_steps() if wait or session.past.at_hand() else {}
    by_name: dict[str, list[Draft]] = {}
    for draft in pencilling.drafts(session, wait=wait):
        by_name.setdefault(draft.document, []).append(draft)
    found = []
    for held in session.places("record"):
        line = look_at(held) if wait else known_line(held)
        mine = None if findings is None else tuple(findings.get(held.name, ()))
        rest = (tuple(by_name.get(held.name, ())), mine)
        item = _listed(held, line, _last_ink(last.get(held.key)), rest)
        if retired or not item.retired:
            found.append(item)
    session.kept.flush()
    return sorted([*found, *_strays(session)], key=lambda item: item.record)


def of_record(held: Held) -> Listed:
    """One line of the list, without findings."""
    session = held.session
    drafts, last = pencilling.drafts(session, held), session.past.last_step(held.key)
    session.sources.look_again()
    line = look_at(held)
    session.kept.flush()
    return _listed(held, line, _last_ink(last), (tuple(drafts), None))


def known_line(held: Held) -> Tree | None:
    """What the list says of a record, where it was worked out before and holds."""
    session = held.session
    known = session.kept.get(held.whose, _LINE, session.sources.hold)
    return known[1] if known else None


def look_at(held: Held) -> Tree:
    """The same, worked out where it is not known."""
    line = known_line(held)
    if line is None:
        line, kept, state = _look(held), held.session.kept, held.session.sources.state
        kept.put(held.whose, _LINE, {s: state(s) for s in _leans_on(held, line)}, line)
    return line


def _leans_on(held: Held, line: Tree) -> Iterator[str]:
    """All that a record's line depends on."""
    yield from (f"ink {path}" for path in (held.path, "book.toml", *line["linked"]))
    yield from (f"folder {top}/{held.key}" for top in ("runs", "signoffs"))


def _look(held: Held) -> Tree:
    """What the list says of a record, as plain values that can be kept."""
    runs = RunLog(held).all()
    line: Tree = {"linked": [], "run": _packed_run(runs[-1]) if runs else None}
    try:
        document = held.read()
    except ReadError:
        return {**line, "broken": True}
    model = document.model
    assert isinstance(model, Record)
    stopped = any(run.stopped for run in runs)
    confirmed = RunLog(held).confirmed()
    linked = [*links_of(document).values(), f"cells/{model.record.cell}.toml"]
    return {
        **line,
        "linked": linked,
        "part": model.record.part,
        "cell": model.record.cell,
        "id": model.record.id,
        "retired": bool(model.record.retired),
        "signed": sign_offs.state(held, document),
        "changed": len(DocumentPast(held).since_run().changes) if stopped else None,
        "confirmed": _packed_confirmed(confirmed) if confirmed else None,
    }


def _packed_run(run: RunState) -> list[Any]:
    stopped = run.stopped.isoformat() if run.stopped else None
    counts = [run.commit, run.end_commit, run.quantity, run.good, run.scrap]
    return [run.number, run.id, run.started.isoformat(), stopped, *counts, run.who.key]


def _run(session: Session, packed: list[Any]) -> RunState:
    number, made, started, stopped, commit, end_commit, quantity, good, scrap, who = packed
    end = datetime.fromisoformat(stopped) if stopped else None
    begin = datetime.fromisoformat(started)
    person = session.person(who)
    return RunState(
        number, made, begin, end, commit, end_commit, quantity, good, scrap, person
    )  # fmt: skip


def _packed_confirmed(confirmed: Confirmed) -> list[Any]:
    return [confirmed.when.isoformat(), confirmed.who.key, confirmed.commit, confirmed.still]


def _confirmed(session: Session, packed: list[Any]) -> Confirmed:
    when, who, commit, still = packed
    return Confirmed(datetime.fromisoformat(when), session.person(who), commit, still)


def _last_ink(known: tuple[int, DocumentChange] | None) -> Mark | None:
    if known is None:
        return None
    number, step = known
    if step.only_decides:
        return merge_mark(step)
    saved = step.saved
    return Mark(f"ink-{number}", "ink", saved.id, saved.when, saved.who, saved.subject)


def _listed(
    held: Held, line: Tree | None, last_ink: Mark | None,
    rest: tuple[tuple[Draft, ...], tuple[Finding, ...] | None],
) -> Listed:  # fmt: skip
    key = held.key if held.key.startswith("wm-") else ""
    if line is None:
        return Listed(held.name, key, "", "", last_ink, None, "no", None, *rest, known=False)
    last_run = _run(held.session, line["run"]) if line["run"] else None
    if line.get("broken"):
        problems = _problems(held)
        return Listed(held.name, key, "", "", last_ink, last_run, "no", None, *rest, problems)
    confirmed = _confirmed(held.session, line["confirmed"]) if line["confirmed"] else None
    return Listed(
        held.name, line["id"], line["part"], line["cell"], last_ink, last_run, line["signed"],
        line["changed"], *rest, (), line["retired"], confirmed,
    )  # fmt: skip


def _problems(held: Held) -> tuple[Problem, ...]:
    try:
        held.read()
    except ReadError as error:
        return tuple(error.problems)
    return ()


def _strays(session: Session) -> list[Listed]:
    found = []
    for path in by_hand.strays(session.folder, session.entries):
        if not path.startswith("records/"):
            continue
        name = name_of(path)
        look = by_hand.look(session.folder, path, None)
        problems = [
            Problem(
                path,
                0,
                "",
                NEVER_INKED,
                f"`witnessmark ink {name} --reason TEXT` takes it into the book.",
            )
        ]
        problems += look.problems if look else ()
        found.append(Listed(name, "", "", "", None, None, "no", None, (), (), tuple(problems)))
    return found
