"""The book's list: one line for each record, and for each that cannot be read.

One bad file never keeps the others from opening; it stands in the list with its
problems. A record on disk that was never inked is listed as such.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from engine.answers import Draft, Finding, Listed
from engine.desk import looking, pencilling, points, signing
from engine.desk.shelf import Held, Shelf
from engine.history import disk
from schemas.document import name_of
from schemas.errors import Problem, ReadError
from schemas.record import Record

NEVER_INKED = "this file is on disk only and was never inked"


def list_records(
    shelf: Shelf, findings: Mapping[str, Iterable[Finding]], *, retired: bool
) -> list[Listed]:
    """Records by name; `findings` by record name are put beside them."""
    by_name: dict[str, list[Draft]] = {}
    for draft in pencilling.drafts(shelf):
        by_name.setdefault(draft.document, []).append(draft)
    found = []
    for held in shelf.places("record"):
        item = _listed(shelf, held, by_name.get(held.name, []), findings.get(held.name, ()))
        if retired or not item.retired:
            found.append(item)
    return sorted([*found, *_strays(shelf)], key=lambda item: item.record)


def _listed(shelf: Shelf, held: Held, drafts: list[Draft], findings: Iterable[Finding]) -> Listed:
    inks = points.inks(shelf, held)
    runs = points.runs(shelf, held)
    last_ink, last_run = (inks or [None])[-1], (runs or [None])[-1]  # type: ignore[list-item]
    rest = (tuple(drafts), tuple(findings))
    try:
        document = shelf.past.document(held.path, held.blob)
    except ReadError as error:
        key = held.key if held.key.startswith("wm-") else ""
        return Listed(
            held.name, key, "", "", last_ink, last_run, "no", None, *rest, tuple(error.problems)
        )
    model = document.model
    assert isinstance(model, Record)
    stopped = any(run.stopped for run in runs)
    changed = len(looking.since_run(shelf, held, None).changes) if stopped else None
    return Listed(
        held.name,
        model.record.id,
        model.record.part,
        model.record.cell,
        last_ink,
        last_run,
        signing.state(shelf, held, document),
        changed,
        *rest,
        (),
        bool(model.record.retired),
        points.confirmed(shelf, held),
    )


def _strays(shelf: Shelf) -> list[Listed]:
    found = []
    for path in disk.strays(shelf.folder, set(shelf.entries)):
        if not path.startswith("records/"):
            continue
        name = name_of(path)
        look = disk.look(shelf.folder, path, None)
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
