"""Runs: one lot from set-up to stop, tied to one exact revision of the record.

A run's file is only ever added to. Each entry is its own commit, and names the
revision of the record that the machine stood on at that moment. Inks made while
a run is open are listed in it when it stops.
"""

from __future__ import annotations

import secrets
from decimal import Decimal

from engine.book.linked_files import changed_links
from engine.book.run_log import RunLog
from engine.book.saving import Save, inked, save
from engine.book.session import Held, Session
from engine.views import Inked, RunState
from schemas.address import Tree
from schemas.document import check_tree, read_document
from schemas.errors import Refused, UsageError
from schemas.log import Run
from schemas.record import Record


class Runs(RunLog):
    """The runs of one record: their log, and what is added to it."""

    def start(self, quantity: int | None = None, note: str = "") -> Inked:
        """Open a run on the revision that is inked now."""
        if not self._held.is_record:
            raise UsageError(f"{self._held.name} is no record and cannot be run")

        def plan() -> Save:
            now = self._held.again()
            number = _next_number(now)
            header = _header(now, number, quantity)
            tree = _with_step({"format": 1, "run": header}, _step(now, "start", note=note))
            return _save(now, tree, f"{now.name}: run {number} started", note)

        return inked(save(self._session, plan, what="start a run"))

    def confirm(self, note: str = "") -> Inked:
        """Note that the inked values were put into the control and read back there."""
        return self._note("confirm", "values read back at the machine", note)

    def stage(self, percent: Decimal | int, note: str = "") -> Inked:
        """Note a stage of prove-out, in percent of full speed."""
        return self._note("stage", f"prove-out stage {percent} %", note, percent=percent)

    def piece(self, which: str, note: str = "") -> Inked:
        """Note that the `first` or the `last` piece was checked."""
        return self._note("piece", f"piece checked ({which})", note, piece=which)

    def refill(self, good: int | None = None, scrap: int | None = None, note: str = "") -> Inked:
        """Note that the tray was refilled, with the counts so far."""
        return self._note("refill", "refilled", note, good=good, scrap=scrap)

    def _note(
        self, what: str, words: str, note: str, **details: Decimal | int | str | None
    ) -> Inked:
        """Add an entry to the open run."""

        def plan() -> Save:
            now = self._held.again()
            run, tree = _open_run(now)
            subject = f"{now.name}: run {run.number}: {words}"
            entry = _step(now, what, note, **details)
            return _save(now, _with_step(tree, entry), subject, note)

        return inked(save(self._session, plan, what="write in a run's log"))

    def stop(self, good: int, scrap: int, note: str = "") -> Inked:
        """Close the open run with its counts, its last revision, and the inks made in it."""
        if good < 0 or scrap < 0:
            raise UsageError("counts cannot be below zero")

        def plan() -> Save:
            now = self._held.again()
            run, tree = _open_run(now)
            entry = _step(now, "stop", good=good, scrap=scrap, note=note)
            tree = {**_with_step(tree, entry), "end": _end(now, run, good, scrap)}
            subject = f"{now.name}: run {run.number} stopped, {good} good, {scrap} scrap"
            return _save(now, tree, subject, note)

        return inked(save(self._session, plan, what="stop a run"))


def _next_number(held: Held) -> int:
    """The number of a run that begins now. Refused where one is open or files are not inked."""
    runs = RunLog(held).all()
    if any(run.stopped is None for run in runs):
        raise Refused(
            f"run {runs[-1].number} of {held.name} is still open",
            hint="`run stop` ends it with its counts.",
        )
    changed = changed_links(held.session, held.read())
    if changed:
        raise Refused(
            f"{', '.join(sorted(changed))} on disk is not as inked",
            where=held.name,
            hint="Ink the record first: what runs must be what can be brought back.",
        )
    return max((run.number for run in runs), default=0) + 1


def _header(held: Held, number: int, quantity: int | None) -> Tree:
    model = _record(held)
    return _given(
        id=f"{held.session.clock():%Y%m%d-%H%M}-{secrets.token_hex(2)}",
        record=held.key,
        number=number,
        commit=held.session.head,
        program_sha256=_program_hash(held.session, model),
        quantity=quantity if quantity is not None else model.lot.quantity,
    )


def _end(held: Held, run: RunState, good: int, scrap: int) -> Tree:
    session = held.session
    during = session.past.after(run.commit)
    inks = [step.saved.id for step in session.past.life(held.key) if step.saved.id in during]
    return _given(
        commit=session.head,
        program_sha256=_program_hash(session, _record(held)),
        good=good,
        scrap=scrap,
        inks=inks or None,
    )


def _record(held: Held) -> Record:
    model = held.read().model
    assert isinstance(model, Record)
    return model


def _open_run(held: Held) -> tuple[RunState, Tree]:
    run = next((run for run in RunLog(held).all() if run.stopped is None), None)
    if run is None:
        raise Refused(f"no run of {held.name} is open", hint="`run start` opens one.")
    path = f"runs/{held.key}/{run.id}.toml"
    return run, read_document(held.session.git.blob(held.session.entries[path]), path).tree


def _save(held: Held, tree: Tree, subject: str, note: str) -> Save:
    document = check_tree(tree, f"runs/{held.key}/{tree['run']['id']}.toml")
    assert isinstance(document.model, Run)
    return Save(held, "run", subject, {document.path: document.bytes}, note)


def _program_hash(session: Session, model: Record) -> str | None:
    """Hash of the program as inked, or None where there is none."""
    return session.sha256(session.entries.get(model.program.file or ""))


def _step(held: Held, what: str, note: str = "", **details: Decimal | int | str | None) -> Tree:
    session = held.session
    at, who = session.clock().replace(microsecond=0), session.identity.key
    return _given(what=what, at=at, who=who, commit=session.head, **details, note=note or None)


def _given(**values: object) -> Tree:
    """A table without what nobody said."""
    return {key: value for key, value in values.items() if value is not None}


def _with_step(tree: Tree, entry: Tree) -> Tree:
    steps = dict(tree.get("steps", {}))
    steps[f"{len(steps) + 1:03d}"] = entry
    return {**tree, "steps": steps}
