"""Runs: one lot from set-up to stop, tied to one exact revision of the record.

A run's file is only ever added to. Each entry is its own commit, and names the
revision of the record that the machine stood on at that moment. Inks made while
a run is open are listed in it when it stops.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping
from typing import Any

from engine.book import revisions
from engine.book.inking import changed_links, committed, trailers
from engine.book.session import Held, Session
from engine.book.transaction import CommitPlan
from engine.people.identity import require, seal
from engine.views import Inked, RunState
from schemas.address import Tree
from schemas.document import check_tree, kind_of, read_document
from schemas.errors import Refused, UsageError
from schemas.log import Run
from schemas.record import Record


def start(session: Session, held: Held, quantity: int | None, note: str) -> Inked:
    """Open a run on the revision that is inked now."""
    require(session.identity, lead=False, what="start a run")
    if kind_of(held.path) != "record":
        raise UsageError(f"{held.name} is no record and cannot be run")

    def plan(_: str) -> CommitPlan:
        now = session.find(held.key)
        past_runs = revisions.runs(session, now)
        if any(run.stopped is None for run in past_runs):
            raise Refused(
                f"run {past_runs[-1].number} of {now.name} is still open",
                hint="`run stop` ends it with its counts.",
            )
        document = session.past.document(now.path, now.blob)
        changed = changed_links(session, document)
        if changed:
            raise Refused(
                f"{', '.join(sorted(changed))} on disk is not as inked",
                where=now.name,
                hint="Ink the record first: what runs must be what can be brought back.",
            )
        number = max((run.number for run in past_runs), default=0) + 1
        at = session.clock()
        model = document.model
        assert isinstance(model, Record)
        header = {
            "id": f"{at:%Y%m%d-%H%M}-{secrets.token_hex(2)}",
            "record": now.key,
            "number": number,
            "commit": session.head,
            "program_sha256": _program_hash(session, model),
            "quantity": quantity if quantity is not None else model.lot.quantity,
        }
        tree: Tree = {"format": 1, "run": {k: v for k, v in header.items() if v is not None}}
        step = _step(session, "start", {"note": note or None})
        return _plan(
            session, now, _with_step(tree, step), f"{now.name}: run {number} started", note
        )

    return committed(session, plan, held.name)


def step(session: Session, held: Held, what: str, details: Mapping[str, Any]) -> Inked:
    """Add an entry to the open run: confirm, stage, piece or refill."""
    require(session.identity, lead=False, what="write in a run's log")
    words = {
        "confirm": "values confirmed at the machine",
        "stage": "prove-out stage",
        "piece": "piece checked",
        "refill": "refilled",
    }

    def plan(_: str) -> CommitPlan:
        now = session.find(held.key)
        run, tree = _open_run(session, now)
        entry = _step(session, what, details)
        extra = f" {details['percent']} %" if details.get("percent") is not None else ""
        extra += f" ({details['piece']})" if details.get("piece") else ""
        subject = f"{now.name}: run {run.number}: {words[what]}{extra}"
        return _plan(session, now, _with_step(tree, entry), subject, str(details.get("note") or ""))

    return committed(session, plan, held.name)


def stop(session: Session, held: Held, good: int, scrap: int, note: str) -> Inked:
    """Close the open run with its counts, its last revision, and the inks made in it."""
    require(session.identity, lead=False, what="stop a run")
    if good < 0 or scrap < 0:
        raise UsageError("counts cannot be below zero")

    def plan(_: str) -> CommitPlan:
        now = session.find(held.key)
        run, tree = _open_run(session, now)
        model = session.past.document(now.path, now.blob).model
        assert isinstance(model, Record)
        during = session.past.after(run.commit)
        inks = [s.saved.id for s in revisions.life(session, now) if s.saved.id in during]
        end = {
            "commit": session.head,
            "program_sha256": _program_hash(session, model),
            "good": good,
            "scrap": scrap,
            "inks": inks or None,
        }
        entry = _step(session, "stop", {"good": good, "scrap": scrap, "note": note or None})
        tree = _with_step(tree, entry)
        tree["end"] = {key: value for key, value in end.items() if value is not None}
        subject = f"{now.name}: run {run.number} stopped, {good} good, {scrap} scrap"
        return _plan(session, now, tree, subject, note)

    return committed(session, plan, held.name)


def _program_hash(session: Session, model: Record) -> str | None:
    """Hash of the program as inked, or None where there is none."""
    blob = session.entries.get(model.program.file or "")
    return hashlib.sha256(session.git.blob(blob)).hexdigest() if blob else None


def _step(session: Session, what: str, details: Mapping[str, Any]) -> Tree:
    entry = {
        "what": what,
        "at": session.clock().replace(microsecond=0),
        "who": session.identity.key,
        "commit": session.head,
        **details,
    }
    return {key: value for key, value in entry.items() if value is not None}


def _with_step(tree: Tree, entry: Tree) -> Tree:
    steps = dict(tree.get("steps", {}))
    steps[f"{len(steps) + 1:03d}"] = entry
    return {**tree, "steps": steps}


def _open_run(session: Session, held: Held) -> tuple[RunState, Tree]:
    run = next((r for r in revisions.runs(session, held) if r.stopped is None), None)
    if run is None:
        raise Refused(f"no run of {held.name} is open", hint="`run start` opens one.")
    path = f"runs/{held.key}/{run.id}.toml"
    return run, read_document(session.git.blob(session.entries[path]), path).tree


def _plan(session: Session, held: Held, tree: Tree, subject: str, reason: str) -> CommitPlan:
    document = check_tree(tree, f"runs/{held.key}/{tree['run']['id']}.toml")
    assert isinstance(document.model, Run)
    return CommitPlan(
        subject,
        [],
        trailers(session.identity, "run", held, reason),
        seal(session.identity, session.clock()),
        {document.path: document.bytes},
    )
