"""What a sync brought, in answers and in words: whose values, what is disputed, what is odd.

Who made a value is told, never who merged it in. A commit that the program did
not make is named, and a merge by hand is compared with what both its sides say.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from engine.book import figures
from engine.book.commit_words import line
from engine.book.session import Session
from engine.book.sync_merge import Merged, side
from engine.log.attribution import WITH_VALUES
from engine.log.commits import Saved, ValueChange
from engine.log.diff import change, changes_between
from engine.merge.books import merge_books
from engine.repo.commit_object import CHECK
from engine.repo.meeting_point import Seen
from engine.repo.message import body_of, trailers_of
from engine.repo.trees import Files
from engine.views import Arrived, Disputed
from engine.views.wording import count, day, moment
from engine.views.wording import figures as wording
from schemas.address import Value, same_value
from schemas.document import Document, kind_of, name_of
from schemas.errors import ReadError, UsageError
from schemas.record import Record

MOST_SAID = 6  # of one kind, in words
MOST_CHECKED = 50  # documents by the rules in one sync; `check` looks at all

Places = dict[str, tuple[str, str]]  # key -> (path, blob)


def came_in(session: Session, before: str, incoming: str) -> tuple[list[Arrived], list[str]]:
    """What the head has that `before` had not, through the shared side; and other files."""
    old, new = session.git.tree(before), session.entries
    differ = [path for path in {**old, **new} if old.get(path) != new.get(path)]
    came = set(session.git.commits(incoming, before)) if incoming else set()
    olds, news = _places(session, old, differ), _places(session, new, differ)
    found: list[Arrived] = []
    for key in dict.fromkeys([*news, *olds]):
        found += _arrived(session, key, olds.get(key), news.get(key), came)
    files = [path for path in differ if kind_of(path) not in WITH_VALUES and path in new]
    return found, sorted(files)


def _places(session: Session, tree: Mapping[str, str], paths: list[str]) -> Places:
    return {
        session.past.key(path, tree[path]): (path, tree[path])
        for path in paths
        if path in tree and kind_of(path) in WITH_VALUES
    }


def _arrived(
    session: Session, key: str, old: tuple[str, str] | None, new: tuple[str, str] | None,
    came: set[str],
) -> Iterator[Arrived]:  # fmt: skip
    steps = [step.saved for step in session.past.life(key) if step.saved.id in came]
    if not steps:
        return
    last = steps[-1]
    if old is None or new is None:
        path = (new or old or ("", ""))[0]
        yield Arrived(name_of(path), "new" if new else "gone", None, steps[0].who, steps[0].id)
        return
    if old[0] != new[0]:
        yield Arrived(name_of(new[0]), "renamed", None, last.who, last.id)
    one, other = session.past.values(*old) or {}, session.past.values(*new) or {}
    changes, _ = changes_between(one, other, session.units_at(*new), new[0])
    rows = _inked(session, key, came)
    for item in changes:
        saved = _made(rows, item.address, item.new)
        if saved is not None:
            yield Arrived(name_of(new[0]), "changed", item, saved.who, saved.id)


def _inked(session: Session, key: str, among: set[str]) -> list[ValueChange]:
    """What people inked in some commits; what merges decided between it is left out."""
    rows = session.past.rows(key, lambda _: True)
    return [row for row in rows if row.saved.id in among and row.decided is None]


def _made(rows: list[ValueChange], address: str, value: Value | None) -> Saved | None:
    found = [row.saved for row in rows if row.address == address and same_value(row.new, value)]
    return found[-1] if found else None


def disputed(session: Session, merged: Merged) -> list[Disputed]:
    """Values that both sides changed, with both names and reasons."""
    found = []
    for claim in merged.claims:
        contest, against = claim.contest, claim.against
        if contest.kept:
            continue  # told for the whole entry
        name, unit = _name_and_unit(session, contest.key.partition(" ")[0], contest.address)
        found.append(
            Disputed(
                name,
                contest.address,
                unit,
                contest.stands,
                against.who if against else None,
                contest.aside,
                claim.who,
                claim.commit,
                against.reason if against else "",
                claim.reason,
            )
        )
    return found


def _name_and_unit(session: Session, key: str, address: str) -> tuple[str, str]:
    name = session.name_of_key(key)
    try:
        return name, session.units(session.read(name))(address)
    except (ReadError, UsageError):
        return name, ""


# figures


def unfit(session: Session, merged: Merged) -> list[str]:
    """Figures that do not fit in the merged book and did on both its sides."""
    sides = (merged.ours, merged.incoming)
    trees = [session.git.tree(side) for side in sides]
    made = session.git.tree(merged.commit)
    said: list[str] = []
    for held in session.places("record"):
        joined = held.key in merged.joined
        if not joined and not _may_lean_on_both(held.path, made, trees):
            continue
        now = _document(session, held.path, made.get(held.path, ""))
        if now is None or not (joined or _leans_on_both(now, made, trees)):
            continue
        found = _not_fitting(session, now, merged.commit)
        before: set[tuple[str, str]] = set()
        for commit in sides if found else ():  # most fit, and need no look at the sides
            earlier = _document(session, *session.past.place_at(commit, held.key, held.path))
            before |= set(_not_fitting(session, earlier, commit)) if earlier else set()
        said += [
            f"{held.name}: the merge makes a figure not fit that fitted on both sides: {words}"
            for name, words in found.items()
            if name not in before
        ]
    return said


def _may_lean_on_both(path: str, made: Files, sides: Sequence[Files]) -> bool:
    """Whether a record at a path may do so, told without reading it: whatever its cell is."""
    return all(
        side.get(path) != made.get(path)
        or side.get("book.toml") != made.get("book.toml")
        or side.folder_id("cells") != made.folder_id("cells")
        for side in sides
    )


def changed_on_both(session: Session, incoming: str) -> list[str]:
    """Names of documents that differ from the common past on this box and in what came in."""
    git, ours = session.git, session.entries
    shared = git.tree(incoming)
    bases = [git.tree(base) for base in git.merge_bases(session.head, incoming)]
    return [
        held.name
        for held in session.places()
        if all(
            side.get(held.path) not in (ours.get(held.path), shared.get(held.path))
            for side in bases
        )
    ][:MOST_CHECKED]


def errors(session: Session, names: Sequence[str]) -> dict[tuple[str, str, str], str]:
    """What the rules hold against some documents, at level error, by rule, name and address."""
    from engine.checks import check  # rules read photos

    known = {held.name for held in session.places()}
    there = [name for name in names if name in known]
    return {
        (f.rule, f.record, f.address): f"{f.record} {f.address}: {f.message} [{f.rule}]"
        for f in (check(session, there) if there else [])
        if f.level == "error" and f.rule != "figure-does-not-fit"  # `unfit` tells that
    }


def _document(session: Session, path: str, blob: str) -> Document | None:
    try:
        return session.past.document(path, blob) if blob else None
    except ReadError:
        return None


def _leans_on_both(now: Document, made: Files, sides: Sequence[Files]) -> bool:
    """Whether values of both sides meet in a record with its cell and the policy."""
    if not isinstance(now.model, Record):
        return False
    paths = (now.path, f"cells/{now.model.record.cell}.toml", "book.toml")
    return all(any(side.get(p) != made.get(p) for p in paths) for side in sides)


def _not_fitting(session: Session, document: Document, commit: str) -> dict[tuple[str, str], str]:
    try:
        found = figures.of_document(session, document, commit)
    except Exception:  # a fault of a figure never keeps a sync from being told
        return {}
    unfit = [figure for figure in found if figure.verdict == "does not fit"]
    return {(figure.name, figure.at): wording.figure_in_words(figure) for figure in unfit}


# what somebody else's merge said, and what somebody did by hand


def merged_elsewhere(session: Session, before: str, incoming: str) -> list[str]:
    """What merges that came in had to say: whose value did not stand, what was taken out."""
    said: list[str] = []
    for commit in session.git.commits(incoming, before):
        saved = session.past.saved(commit)
        if saved is None or saved.kind != "merge" or not saved.whole:
            continue
        lines = body_of(session.git.raw_commit(commit).message)
        said += [f"{saved.who.name} merged ({commit[:10]}): {line}" for line in lines[:MOST_SAID]]
        if len(lines) > MOST_SAID:
            said.append(f"and {len(lines) - MOST_SAID} more; `git show {commit[:10]}` has them")
    return said


def rewritten_in_words(session: Session, seen: Seen, incoming: str) -> str:
    """What is gone from a meeting point whose past was rewritten."""
    git = session.git
    gone = [git.raw_commit(c) for c in git.commits(seen.tip, *([incoming] if incoming else []))]
    when = f" on {moment(seen.at)}" if seen.at else ""
    first = gone[-1].message.partition("\n")[0] if gone else ""
    lost = count(len(gone), "commit")
    words = f"the past there was rewritten: it has lost {lost} that it had{when}"
    if first:
        words += f", the first of them {gone[-1].id[:10]} by {gone[-1].author[0]} ({first})"
    if not incoming:
        return f"{words}; nothing is there any more"
    if git.is_ancestor(incoming, seen.tip):
        return f"{words}; what is there is an older state, as of a copy that was put back"
    known = {(raw.author, raw.message) for raw in gone}
    now = [git.raw_commit(commit) for commit in git.commits(incoming, seen.tip)]
    copies = sum((raw.author, raw.message) in known for raw in now)
    if copies:
        words += f"; {copies} of them came back as copies under other ids, as a rebase makes them"
    return words


def made_by_hand(session: Session, before: str, incoming: str) -> list[str]:
    """Commits that came in and that the program did not make, explained."""
    saves = [session.past.saved(commit) for commit in session.git.commits(incoming, before)]
    odd = [saved for saved in saves if saved is not None and not saved.whole]
    said: list[str] = []
    for saved in odd[:MOST_SAID]:
        said.append(f"{saved.id[:10]} was not made by this program: {_how(session, saved)}")
        if len(saved.parents) > 1:
            said += _decided(session, saved)
    if len(odd) > MOST_SAID:
        more = count(len(odd) - MOST_SAID, "more commit")
        said.append(f"and {more} that this program did not make")
    return said


def _how(session: Session, saved: Saved) -> str:
    raw = session.git.raw_commit(saved.id)
    what = f"{saved.subject!r} by {raw.author[0]}, {day(saved.when)}"
    if len(saved.parents) > 1:
        return f"{what}, a merge by hand"
    if raw.author != raw.committer:
        return f"{what}, put on another commit by {raw.committer[0]} (rebase or cherry-pick)"
    if CHECK in trailers_of(raw.message):
        return f"{what}, with the trailers of another save, or changed after it was made"
    return f"{what}, a commit by hand"


def _decided(session: Session, saved: Saved) -> list[str]:
    """Where a merge by hand holds something else than its two sides, value by value."""
    git, past = session.git, session.past
    one, other = saved.parents[:2]
    bases = git.merge_bases(one, other)
    sides = [side(session, parent, bases) for parent in (one, other)]
    wanted = merge_books(past, [git.tree(base) for base in bases], *sides)
    there = git.tree(saved.id)
    said = []
    for path, text in wanted.texts.items():
        meant = past.values(path, git.write_blob(text)) or {}
        has = (past.values(path, there[path]) or {}) if path in there else {}
        for address in dict.fromkeys([*meant, *has]):
            if not same_value(meant.get(address), has.get(address)):
                words = line(change(address, meant.get(address), has.get(address), ""))
                said.append(f"{name_of(path)} {words}: decided by that merge, not by its sides")
    more = len(said) - MOST_SAID
    return [*said[:MOST_SAID], *([f"and {count(more, 'more value')}"] if more > 0 else [])]
