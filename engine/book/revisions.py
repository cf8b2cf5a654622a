"""Marks: named points in a document's past, and what stood there.

`now` is the head, `pencil` is my pencil on it, `ink-12` the twelfth ink of the
document, `run-3` the revision at the stop of its third run (`run-3-start` at
its start), `sign-off-1` a sign-off; anything else is the beginning of a commit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

from engine.book.session import Held, Session
from engine.log.past import DocumentChange
from engine.views import Confirmed, LogEntry, Mark, RunState
from schemas.address import Value, show
from schemas.document import Document
from schemas.errors import ReadError, UsageError
from schemas.log import Run, RunStep, SignOff

_INK = re.compile(r"ink-(\d+)")
_RUN = re.compile(r"run-(\d+)(-start)?")
_SIGN_OFF = re.compile(r"sign-off-(\d+)")
_COMMIT = re.compile(r"[0-9a-f]{7,64}")


@dataclass(frozen=True, slots=True)
class Revision:
    """One state of a document: the commit, the words for it, and its values there."""

    label: str
    commit: str
    path: str
    blob: str  # empty where the document did not exist there


def life(session: Session, held: Held) -> list[DocumentChange]:
    """Steps of a document, oldest first."""
    return session.past.life(held.key)


def inks(session: Session, held: Held) -> list[Mark]:
    """Every ink of a document, oldest first."""
    steps = [step for step in life(session, held) if step.new]
    return [
        Mark(f"ink-{n}", "ink", s.saved.id, s.saved.when, s.saved.who, s.saved.subject)
        for n, s in enumerate(steps, 1)
    ]


def run_files(session: Session, held: Held) -> list[Run]:
    """Run files of a record, oldest first; one that cannot be read is left out."""
    found = []
    for path, blob in session.entries.under(f"runs/{held.key}"):
        try:
            model = session.past.document(path, blob).model
        except ReadError:
            continue
        if isinstance(model, Run) and model.steps:
            found.append(model)
    return sorted(found, key=lambda run: (_steps(run)[0].at, run.run.number))


def _steps(run: Run) -> list[RunStep]:
    return list(run.steps.values())


def runs(session: Session, held: Held) -> list[RunState]:
    """Runs of a record, oldest first."""
    return [_run_state(session, run) for run in run_files(session, held)]


def _run_state(session: Session, run: Run) -> RunState:
    steps = _steps(run)
    counts = [s for s in steps if s.good is not None]
    good = run.end.good if run.end else (counts[-1].good or 0 if counts else 0)
    scrap = run.end.scrap if run.end else (counts[-1].scrap or 0 if counts else 0)
    return RunState(
        run.run.number,
        run.run.id,
        steps[0].at,
        steps[-1].at if run.end else None,
        run.run.commit,
        run.end.commit if run.end else "",
        run.run.quantity,
        good,
        scrap,
        session.person(steps[0].who),
    )


def run_log(session: Session, held: Held, number: int | None) -> list[LogEntry]:
    """Entries of all runs of a record, or of one; the inks made in a run stand among them."""
    found = []
    for run in run_files(session, held):
        if number is not None and run.run.number != number:
            continue
        for step in _steps(run):
            found.append(_entry(session, run.run.number, step))
        for commit in (run.end.inks if run.end else None) or []:
            saved = session.past.saved(commit)
            if saved is not None:
                found.append(
                    LogEntry(run.run.number, "ink", saved.when, saved.who, commit, saved.subject)
                )
    return sorted(found, key=lambda entry: (entry.run, entry.at))


def _entry(session: Session, number: int, step: RunStep) -> LogEntry:
    said = [
        f"{show(step.percent)} % of full speed" if step.percent is not None else "",
        f"{step.piece} piece" if step.piece else "",
        f"{step.good} good" if step.good is not None else "",
        f"{step.scrap} scrap" if step.scrap is not None else "",
        step.note or "",
    ]
    text = ", ".join(part for part in said if part)
    return LogEntry(number, step.what, step.at, session.person(step.who), step.commit or "", text)


def confirmed(session: Session, held: Held) -> Confirmed | None:
    """The last confirmation at the machine, and whether the record still stands as it did then."""
    steps = [s for run in run_files(session, held) for s in _steps(run) if s.what == "confirm"]
    last = max(steps, key=lambda step: step.at, default=None)
    if last is None or not last.commit:
        return None
    then = at_commit(session, held, last.commit, "confirmed")
    still = then.blob == held.blob
    return Confirmed(last.at, session.person(last.who), last.commit, still)


def sign_offs(session: Session, held: Held) -> list[SignOff]:
    """Sign-offs of a record, oldest first."""
    found = []
    for path, blob in session.entries.under(f"signoffs/{held.key}"):
        try:
            model = session.past.document(path, blob).model
        except ReadError:
            continue
        if isinstance(model, SignOff):
            found.append(model)
    return sorted(found, key=lambda sign_off: sign_off.sign_off.at)


def marks(session: Session, held: Held) -> list[Mark]:
    """All named points of a document, newest first."""
    found = inks(session, held)
    for run in runs(session, held):
        when = run.stopped or run.started
        state = f"stopped, {run.good} good, {run.scrap} scrap" if run.stopped else "running"
        commit = run.end_commit or run.commit
        found.append(Mark(f"run-{run.number}", "run", commit, when, run.who, state))
    for n, model in enumerate(sign_offs(session, held), 1):
        head = model.sign_off
        found.append(
            Mark(
                f"sign-off-{n}",
                "sign-off",
                head.commit,
                head.at,
                session.person(head.who),
                head.note or "signed off",
            )
        )
    order = session.past.order_of
    return sorted(found, key=lambda mark: (mark.when, order(mark.commit)), reverse=True)


def resolve(session: Session, held: Held, text: str) -> Revision:
    """The point that a mark names. UsageError with what there is."""
    if text in ("now", "HEAD", ""):
        return Revision("now", session.head, held.path, held.blob)
    commit = _commit_of(session, held, text)
    return at_commit(session, held, commit, text)


def at_commit(session: Session, held: Held, commit: str, label: str) -> Revision:
    """What stood at a commit, wherever the document lay then."""
    path, blob = session.past.place_at(commit, held.key, held.path)
    return Revision(label, commit, path or held.path, blob)


def _commit_of(session: Session, held: Held, text: str) -> str:
    if found := _INK.fullmatch(text):
        all_inks = inks(session, held)
        if 1 <= int(found[1]) <= len(all_inks):
            return all_inks[int(found[1]) - 1].commit
    elif found := _RUN.fullmatch(text):
        numbered = [run for run in runs(session, held) if run.number == int(found[1])]
        _stop_at_several(text, numbered)
        for run in numbered:
            return run.commit if found[2] else (run.end_commit or run.commit)
    elif found := _SIGN_OFF.fullmatch(text):
        done = sign_offs(session, held)
        if 1 <= int(found[1]) <= len(done):
            return done[int(found[1]) - 1].sign_off.commit
    elif _COMMIT.fullmatch(text):
        same = session.past.commits_beginning(text)
        if len(same) == 1:
            return same[0]
        if same:
            raise UsageError(
                f"{text!r} is the beginning of {len(same)} commits", hint="Write more of it."
            )
    raise UsageError(
        f"{held.name} has no mark {text!r}",
        hint="`marks` lists them: now, pencil, ink-12, run-3, sign-off-1, a commit.",
    )


def _stop_at_several(text: str, numbered: list[RunState]) -> None:
    """UsageError where boxes that had not met gave one number to several runs."""
    if len(numbered) > 1:
        said = ", ".join(f"{run.commit[:10]} of {run.started:%Y-%m-%d %H:%M}" for run in numbered)
        raise UsageError(
            f"{text} stands for {len(numbered)} runs, begun on boxes that had not met",
            hint=f"Name the commit: {said}.",
        )


def before(session: Session, held: Held, moment: datetime, label: str) -> Revision:
    """What stood in the book at a moment; nothing where the document began later.

    The commit is the document's own last one by then, so that it says whose text that was.
    """
    head = session.past.head_at(moment)
    path, blob = session.past.place_at(head, held.key, held.path) if head else ("", "")
    if not blob:
        return Revision(f"{label} (it began later)", "", held.path, "")
    until = session.past.order_of(head)
    own = [
        step.saved.id
        for step in life(session, held)
        if step.new == blob and session.past.order_of(step.saved.id) <= until
    ]
    return Revision(label, own[-1] if own else head, path, blob)


def document_at(session: Session, point: Revision) -> Document | None:
    """The document at a point, or None where there was none."""
    return session.past.document(point.path, point.blob) if point.blob else None


def values_at(session: Session, point: Revision) -> dict[str, Value]:
    """Every value at a point; empty where there was no document or no TOML."""
    return session.past.values(point.path, point.blob) or {}
