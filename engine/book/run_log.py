"""The log of a record's runs, as its files tell it: what was noted, when and by whom.

Nothing here writes. Order is that of history, whatever clocks said. A run's file that
cannot be read is left out (a finding says so); a run is closed by its end, never by a later one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from engine.book.session import Held, Session
from engine.views import Confirmed, LogEntry, RunState
from schemas.address import show
from schemas.errors import ReadError
from schemas.log import Run, RunStep


class RunLog:
    """What was noted in the runs of one record."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self._session = held.session

    def files(self) -> list[Run]:
        """Run files of the record, oldest first; one that cannot be read is left out."""
        found = []
        for path, blob in self._session.entries.under(f"runs/{self._held.key}"):
            try:
                model = self._session.past.document(path, blob).model
            except ReadError:
                continue
            if isinstance(model, Run) and model.steps:
                found.append(model)
        rank = self._session.past.rank
        return sorted(
            found, key=lambda run: (rank(run.run.commit), run.run.number, _steps(run)[0].at)
        )

    def all(self) -> list[RunState]:
        """Runs of the record, oldest first."""
        return [_state(self._session, run) for run in self.files()]

    def log(self, number: int | None = None) -> list[LogEntry]:
        """Entries of all runs of the record, or of one; the inks made in a run stand among them."""
        found: list[tuple[tuple[int, int], LogEntry]] = []
        rank = self._session.past.rank
        for run in self.files():
            if number is not None and run.run.number != number:
                continue
            # what is noted on an ink comes after it
            found += [(rank(entry.commit), entry) for entry in self._inks_in(run)]
            last = (-1, -1)
            for step in _steps(run):  # as they were added, whatever they name
                last = max(last, rank(step.commit) if step.commit else last)
                found.append((last, _entry(self._session, run.run.number, step)))
        return [entry for _, entry in sorted(found, key=lambda item: (item[1].run, item[0]))]

    def _inks_in(self, run: Run) -> Iterator[LogEntry]:
        for commit in (run.end.inks if run.end else None) or []:
            saved = self._session.past.saved(commit)
            if saved is not None:
                number, said = run.run.number, saved.subject
                yield LogEntry(number, "ink", saved.when, saved.who, commit, said)

    def confirmed(self) -> Confirmed | None:
        """The last confirmation at the machine, and whether the record stands as it did then."""
        held = self._held
        rank = self._session.past.rank
        steps = [s for run in self.files() for s in _steps(run) if s.what == "confirm"]
        last = max(reversed(steps), key=lambda step: rank(step.commit or ""), default=None)
        if last is None or not last.commit:
            return None
        path, blob = self._session.past.place_at(last.commit, held.key, held.path)
        still = self._session.alike(replace(held, path=path or held.path, blob=blob), held)
        return Confirmed(last.at, self._session.person(last.who), last.commit, still)


def _steps(run: Run) -> list[RunStep]:
    return list(run.steps.values())


def _state(session: Session, run: Run) -> RunState:
    head, end, steps = run.run, run.end, _steps(run)
    counts = [s for s in steps if s.good is not None]
    good = end.good if end else (counts[-1].good or 0 if counts else 0)
    scrap = end.scrap if end else (counts[-1].scrap or 0 if counts else 0)
    started, stopped = steps[0].at, steps[-1].at if end else None
    end_commit, who = end.commit if end else "", session.person(steps[0].who)
    return RunState(
        head.number, head.id, started, stopped, head.commit, end_commit, head.quantity, good, scrap,
        who,
    )  # fmt: skip


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
