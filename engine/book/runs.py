"""Runs: one lot from set-up to stop, tied to one exact revision of the record.

A run's file is only ever added to. Each entry is its own commit, and names the
revision of the record that the machine stood on at that moment. Inks made while
a run is open are listed in it when it stops.
"""

from __future__ import annotations

import hashlib
import secrets
from decimal import Decimal

from engine.book.inking import changed_links, committed, trailers
from engine.book.revisions import Revisions
from engine.book.run_log import RunLog
from engine.book.session import Session
from engine.book.transaction import CommitPlan
from engine.people.identity import require, seal
from engine.views import Inked, RunState
from schemas.address import Tree
from schemas.document import check_tree, kind_of, read_document
from schemas.errors import Refused, UsageError
from schemas.log import Run
from schemas.record import Record


class Runs(RunLog):
    """The runs of one record: their log, and what is added to it."""

    def start(self, quantity: int | None = None, note: str = "") -> Inked:
        """Open a run on the revision that is inked now."""
        require(self._session.identity, lead=False, what="start a run")
        if kind_of(self._held.path) != "record":
            raise UsageError(f"{self._held.name} is no record and cannot be run")

        def plan(_: str) -> CommitPlan:
            now = self._held.again()
            past_runs = RunLog(now).all()
            if any(run.stopped is None for run in past_runs):
                raise Refused(
                    f"run {past_runs[-1].number} of {now.name} is still open",
                    hint="`run stop` ends it with its counts.",
                )
            document = now.read()
            changed = changed_links(self._session, document)
            if changed:
                raise Refused(
                    f"{', '.join(sorted(changed))} on disk is not as inked",
                    where=now.name,
                    hint="Ink the record first: what runs must be what can be brought back.",
                )
            number = max((run.number for run in past_runs), default=0) + 1
            at = self._session.clock()
            model = document.model
            assert isinstance(model, Record)
            header = {
                "id": f"{at:%Y%m%d-%H%M}-{secrets.token_hex(2)}",
                "record": now.key,
                "number": number,
                "commit": self._session.head,
                "program_sha256": _program_hash(self._session, model),
                "quantity": quantity if quantity is not None else model.lot.quantity,
            }
            tree: Tree = {"format": 1, "run": {k: v for k, v in header.items() if v is not None}}
            step = _step(self._session, "start", note=note)
            return Runs(now)._plan(
                _with_step(tree, step), f"{now.name}: run {number} started", note
            )

        return committed(self._session, plan, self._held.name)

    def confirm(self, note: str = "") -> Inked:
        """Note that the inked values were put into the control and read back there."""
        return self._note("values confirmed at the machine", {"what": "confirm", "note": note})

    def stage(self, percent: Decimal | int, note: str = "") -> Inked:
        """Note a stage of prove-out, in percent of full speed."""
        words = f"prove-out stage {percent} %"
        return self._note(words, {"what": "stage", "percent": percent, "note": note})

    def piece(self, which: str, note: str = "") -> Inked:
        """Note that the `first` or the `last` piece was checked."""
        words = f"piece checked ({which})"
        return self._note(words, {"what": "piece", "piece": which, "note": note})

    def refill(self, good: int | None = None, scrap: int | None = None, note: str = "") -> Inked:
        """Note that the tray was refilled, with the counts so far."""
        return self._note(
            "refilled", {"what": "refill", "good": good, "scrap": scrap, "note": note}
        )

    def _note(self, words: str, details: Tree) -> Inked:
        """Add an entry to the open run."""
        require(self._session.identity, lead=False, what="write in a run's log")

        def plan(_: str) -> CommitPlan:
            now = self._held.again()
            run, tree = Runs(now)._open_run()
            subject = f"{now.name}: run {run.number}: {words}"
            entry = _step(self._session, **details)
            return Runs(now)._plan(_with_step(tree, entry), subject, details["note"])

        return committed(self._session, plan, self._held.name)

    def stop(self, good: int, scrap: int, note: str = "") -> Inked:
        """Close the open run with its counts, its last revision, and the inks made in it."""
        require(self._session.identity, lead=False, what="stop a run")
        if good < 0 or scrap < 0:
            raise UsageError("counts cannot be below zero")

        def plan(_: str) -> CommitPlan:
            now = self._held.again()
            run, tree = Runs(now)._open_run()
            model = now.read().model
            assert isinstance(model, Record)
            during = self._session.past.after(run.commit)
            inks = [s.saved.id for s in Revisions(now).life() if s.saved.id in during]
            end = {
                "commit": self._session.head,
                "program_sha256": _program_hash(self._session, model),
                "good": good,
                "scrap": scrap,
                "inks": inks or None,
            }
            entry = _step(self._session, "stop", good=good, scrap=scrap, note=note)
            tree = _with_step(tree, entry)
            tree["end"] = {key: value for key, value in end.items() if value is not None}
            subject = f"{now.name}: run {run.number} stopped, {good} good, {scrap} scrap"
            return Runs(now)._plan(tree, subject, note)

        return committed(self._session, plan, self._held.name)

    def _open_run(self) -> tuple[RunState, Tree]:
        run = next((r for r in self.all() if r.stopped is None), None)
        if run is None:
            raise Refused(f"no run of {self._held.name} is open", hint="`run start` opens one.")
        path = f"runs/{self._held.key}/{run.id}.toml"
        return run, read_document(self._session.git.blob(self._session.entries[path]), path).tree

    def _plan(self, tree: Tree, subject: str, reason: str) -> CommitPlan:
        document = check_tree(tree, f"runs/{self._held.key}/{tree['run']['id']}.toml")
        assert isinstance(document.model, Run)
        return CommitPlan(
            subject,
            [],
            trailers(self._session.identity, "run", self._held, reason),
            seal(self._session.identity, self._session.clock()),
            {document.path: document.bytes},
        )


def _program_hash(session: Session, model: Record) -> str | None:
    """Hash of the program as inked, or None where there is none."""
    blob = session.entries.get(model.program.file or "")
    return hashlib.sha256(session.git.blob(blob)).hexdigest() if blob else None


def _step(session: Session, what: str, **details: Decimal | int | str | None) -> Tree:
    entry: Tree = {
        "what": what,
        "at": session.clock().replace(microsecond=0),
        "who": session.identity.key,
        "commit": session.head,
        **details,
    }
    return {key: value for key, value in entry.items() if value not in (None, "")}


def _with_step(tree: Tree, entry: Tree) -> Tree:
    steps = dict(tree.get("steps", {}))
    steps[f"{len(steps) + 1:03d}"] = entry
    return {**tree, "steps": steps}
