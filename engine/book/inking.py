"""Inking: my pencil on a document becomes one commit, with what it links to.

The commit holds the record together with the program and the photos that
changed with it, since a hash alone brings no job back. Who inked the same thing
meanwhile is told by name; nothing is overwritten.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from engine.book.chosen import (
    Wanted,
    already_inked,
    choose,
    how_to_record,
    last_of_pencil,
    links_to_ink,
)
from engine.book.commit_words import subject_of
from engine.book.linked_files import changed_links
from engine.book.mending import InkedPencil
from engine.book.pencil_rules import accepted
from engine.book.pencilling import MyPencil, live, overlay
from engine.book.revisions import Revisions
from engine.book.saving import Save, after_the_save, inked, save
from engine.book.session import Held, Session
from engine.drafts import by_hand
from engine.drafts.by_hand import with_comments_in_notes
from engine.drafts.conflicts import contested
from engine.drafts.marks import PencilMark, pack
from engine.drafts.pencil import Pencil
from engine.log.diff import changes_between
from engine.views import Change, Inked
from engine.views.wording import count
from schemas.address import Value, show
from schemas.book import reason_patterns
from schemas.document import Document
from schemas.errors import BookError, Conflict, ReadError, Refused, UsageError
from schemas.record import Record, is_coupled
from schemas.upgrade import covers


@dataclass(frozen=True, kw_only=True)
class PencilSave(Save):
    """A save of pencil, with the texts before and after it."""

    old: Document
    new: Document
    partly: bool


ALL = Wanted()


def ink(held: Held, reason: str, wanted: Wanted = ALL) -> Inked:
    """Ink my pencil, or what of it is wanted; the answer lists what stays.

    Conflict, FoundOnDisk, BelongsTogether or Refused where it cannot be done; all pencil stays.
    """
    session, pencil = held.session, MyPencil(held).writable()
    try:
        held.read()
    except ReadError as error:
        return _ink_what_was_mended(held, reason, error)
    done = save(
        session,
        lambda: _laid_over_the_head(held.again(), pencil, reason, wanted),
        what=f"ink {held.name}",
        lead=not held.is_record,
    )
    # Figures are looked at after the save: none of them holds it up.
    answer = inked(done)
    with after_the_save():
        from engine.book import figures  # most commands compute none

        worse = figures.worse_in_words(session, done.kept.old, done.kept.new)
        answer = replace(answer, messages=(*worse, *answer.messages))
    with after_the_save():
        if done.kept.partly:
            answer = replace(answer, left=MyPencil(done.kept.held.again()).draft())
    return answer


def _laid_over_the_head(held: Held, pencil: Pencil, reason: str, wanted: Wanted) -> PencilSave:
    """My pencil on what is inked now, with the linked files that changed."""
    session, old, state = held.session, held.read(), pencil.state()
    if pencil.journal.trouble:  # what cannot be read is not taken for no pencil at all
        raise BookError(
            f"your pencil cannot be read: {pencil.journal.trouble}",
            where=str(pencil.journal.path),
            hint="Nothing was inked. Try again; if it stays so, look at the disk.",
        )
    wanted = replace(wanted, only=tuple(map(held.present, wanted.only)))
    marks, rest = choose(held, accepted(held, pencil.person, live(state, old.values)), wanted)
    _stop_if_contested(held, marks, old.values)
    laid = _laid_over(held, old, marks, rest)
    new = with_comments_in_notes(replace(laid, comments=old.comments))
    linked, others = links_to_ink(new, changed_links(session, new), marks, wanted)
    changes, respelt = changes_between(old.values, new.values, session.units(new))
    gone = [a for a in wanted.only if not any(Wanted((a,)).names(m.address) for m in marks)]
    if not (marks or linked or (old.comments and not wanted.only)):
        raise _nothing_to_ink(held, pencil, gone, reason)
    _stop_without_reason(held, changes, reason)
    what = "; ".join([*subject_of(changes, respelt), *sorted(linked)])
    # Those that say what is inked are closed, too; what is not accepted stays where it is.
    stay = {mark.address for mark in rest}
    sound = accepted(held, pencil.person, state.marks.values())
    packed = [pack(mark) for mark in sound if mark.address not in stay]
    return PencilSave(
        held,
        "ink",
        f"{held.name}: {what}",
        {held.path: new.bytes},
        reason,
        changes=tuple(changes),
        messages=(*_messages(held, old, changes), *already_inked(held, gone, reason), *others),
        linked=linked,
        pencil=InkedPencil(pencil.person, pencil.document, state.draft, packed),
        old=old,
        new=new,
        partly=bool(wanted.only),
    )


def _nothing_to_ink(held: Held, pencil: Pencil, named: Sequence[str], reason: str) -> Refused:
    """Why: somebody, perhaps I at another terminal, was faster; with what became of the reason."""
    became = already_inked(held, named, reason)
    if not named:
        became = [last_of_pencil(held, pencil, reason)]
    told = "; ".join(filter(None, became))
    if not told:
        hint = "Nothing is in pencil, and program and photos are as inked."
        return Refused("there is nothing to ink", where=held.name, hint=hint)
    hint = how_to_record(held, reason)
    return Refused(f"there is nothing to ink: {told}", where=held.name, hint=hint)


def _ink_what_was_mended(held: Held, reason: str, broken: ReadError) -> Inked:
    """Ink what was mended on disk, where the inked text itself cannot be used."""
    session = held.session
    found = by_hand.look(session.folder, held.path, session.git.blob(held.blob))
    if found is None or found.document is None or found.data is None:
        raise ReadError([*found.problems] if found and found.problems else broken.problems)
    data, document = found.data, found.document
    if document.values.get("record.id", held.key) != held.key:
        raise Refused(f"{held.path} on disk carries another identity", hint="Put its own id back.")
    if not reason.strip():
        hint = "Say it with --reason TEXT."
        raise Refused("mending a broken file needs a reason", where=held.path, hint=hint)
    changes, _ = changes_between(held.last_values(), document.values, session.units(document))

    def plan() -> Save:
        if held.again().blob != held.blob:
            raise Refused(f"{held.name} was inked by somebody else meanwhile", hint="Look at it.")
        subject, linked = f"{held.name}: mended on disk", changed_links(session, document)
        files, changed = {held.path: data}, tuple(changes)
        return Save(held, "ink", subject, files, reason, changes=changed, linked=linked)

    return inked(save(session, plan, what=f"ink {held.name}", lead=not held.is_record))


def _laid_over(
    held: Held, document: Document, marks: Sequence[PencilMark], rest: Sequence[PencilMark]
) -> Document:
    """Pencil on what is inked now. Conflict where somebody inked away what it stands in;
    Refused where it does not stand without `rest`, which is not to be inked."""
    try:
        return overlay(document, marks)
    except ReadError as error:
        problem = error.problems[0]
        if _goes_together(document, [*marks, *rest]):
            raise Refused(
                "what you ink does not stand without older pencil of yours: "
                f"{problem.address}: {problem.what}",
                where=held.name,
                hint=f"Nothing was inked. `witnessmark ink {held.name}` inks all of your pencil; "
                "or name the other values, too.",
            ) from None
        raise Conflict(
            f"your pencil does not go with what is inked now: {problem.address}: {problem.what}",
            where=held.name,
            hint=f"Nothing was inked. `witnessmark pencil {held.name} --rub-out ADDRESS` rubs "
            "that value out; it can be brought back.",
        ) from None


def _goes_together(document: Document, marks: Sequence[PencilMark]) -> bool:
    try:
        overlay(document, marks)
    except ReadError:
        return False
    return True


def _stop_if_contested(held: Held, marks: Sequence[PencilMark], inked: Mapping[str, Value]) -> None:
    session = held.session
    against = contested(session.past, held.key, marks, inked, session.identity.key)
    if not against:
        return
    lines = [
        f"{mark.address}: {session.identity.name} has {show(mark.value) or 'nothing'}, inked is "
        f"{show(inked.get(mark.address)) or 'nothing'} (changed by {against[mark.address].name})"
        for mark in marks
        if mark.address in against
    ]
    raise Conflict(
        "somebody else inked the same thing, or what belongs together with it, meanwhile: "
        + "; ".join(lines),
        where=held.name,
        hint=f"Nothing was overwritten. `pencil {held.name} --keep` keeps yours, `--rub-out` "
        "drops yours and keeps theirs.",
    )


def _stop_without_reason(held: Held, changes: Sequence[Change], reason: str) -> None:
    first = needs_reason(held.session, changes)
    if first and not reason.strip():
        raise Refused(
            f"a change of {first} needs a reason",
            where=held.name,
            hint="Say it with --reason TEXT; it stays with the change for ever.",
        )


def needs_reason(session: Session, changes: Sequence[Change]) -> str:
    """The first changed address for which the policy wants a reason, or empty."""
    try:
        patterns = reason_patterns(session.book_file().policy)
    except (ReadError, UsageError):
        patterns = ("positions",)
    for change in changes:
        if any(covers("record", pattern, change.address) for pattern in patterns):
            return change.address
    return ""


def _messages(held: Held, old: Document, changes: Sequence[Change]) -> list[str]:
    """What a person should know about this ink."""
    said = []
    if old.comments:
        comments = count(len(old.comments), "comment")
        said.append(f"now in the notes: {comments} of the hand-edited file")
    if changes and isinstance(old.model, Record) and Revisions(held).sign_offs():
        said.append("the last sign-off does not cover this revision")
    first = next((c.address for c in changes if is_coupled(c.address)), "")
    stages = old.model.lot.stages if isinstance(old.model, Record) else None
    if first and stages:
        said.append(
            f"{first} changed: prove out again from the first stage, "
            f"{show(stages[0])} % of full speed, without a blank"
        )
    return said
