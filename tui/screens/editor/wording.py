"""What the lines around the list say of a document and of the chosen value.

Invariant: what has to be decided comes first; every pencil is named with its person.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording import ago, count, how_old, person, unit_word, with_unit
from schemas.errors import Gone
from tui.screens.editor.contents import Field
from tui.screens.editor.document import EditedDocument
from tui.widgets.paint import StyledText

if TYPE_CHECKING:
    from engine.views import Draft, Finding
    from schemas.fields import Described


def joined(words: Sequence[StyledText]) -> list[StyledText]:
    """Words in a line, with room between them."""
    found: list[StyledText] = []
    for word in words:
        found += [("   ", ""), word] if found else [word]
    return found


def urgent_words(
    document: EditedDocument, findings: Sequence[Finding], past: Sequence[Finding]
) -> list[StyledText]:
    """What to decide, and what does not hold together."""
    words: list[StyledText] = [(document.news, "warning")] if document.news else []
    if past:
        words.append(("! the past was rewritten: f", "error"))
    if document.gone is not None:
        gone = "not in the book any more" if isinstance(document.gone, Gone) else "not readable now"
        words.append((f"! {gone}; pencil is kept", "error"))
    elif document.contents is not None and document.contents.retired_by:
        words.append(("retired", "warning"))
    if document.contents is not None and document.contents.disk is not None:
        words.append(("! changed on disk: o", "contested"))
    if document.contested():
        words.append(("! contested: d", "contested"))
    for level in ("error", "warning"):
        number = sum(1 for each in findings if each.level == level)
        if number:
            words.append((count(number, level), level))
    return words


def pencil_words(drafts: Sequence[Draft], me: str, now: datetime, width: int) -> list[StyledText]:
    """Whose pencil there is, mine first, how much, and since when."""
    words: list[StyledText] = []
    for draft in sorted(drafts, key=lambda each: not me or each.who.key != me):
        mine = bool(me) and draft.who.key == me
        name = draft.who.name if width >= 120 else draft.who.name.split(" ")[0]
        number = count(len(draft.marks), "value")
        text = f"{'you' if mine else name}, {number}, {how_old(draft.since, now)}"
        text = text if words else f"pencil: {text}"
        words.append((text, "pencil" if mine else "theirs"))
    return words or [("nothing in pencil", "")]


def pencil_here(each: Field, me: str, now: datetime) -> list[StyledText]:
    """The pencil on one value, mine first."""
    words: list[StyledText] = []
    if each.mine is not None and each.mine.contested is not None:
        who = person(each.mine.contested, me)
        text = f"! {who} inked this or what belongs to it meanwhile: press d"
        words.append((text, "contested"))
    elif each.mine is not None:
        note = f", {each.mine.note}" if each.mine.note else ""
        words.append((f"~ your pencil, {ago(each.mine.at, now)}{note}", "pencil"))
    for other in each.others:
        words.append((f": {other.who.name}'s pencil, {ago(other.at, now)}", "theirs"))
    return words


def explained(
    here: Field, known: Described, figures: Sequence[str], now: datetime
) -> list[StyledText]:
    """A value in full, for the help: meaning, unit, ink, pencil, and what follows from it."""
    texts = [(here.address, "heading"), (known.meaning, "strong")]
    unit = unit_word(here.unit or known.unit)
    texts.append((f"Unit: {unit}" if unit else f"Kind: {known.kind}", ""))
    if known.choices:
        texts.append((f"One of: {', '.join(known.choices)}", ""))
    texts.append((f"In ink: {with_unit(here.inked, here.unit)}", ""))
    for mark in (*((here.mine,) if here.mine else ()), *here.others):
        who = "you" if mark is here.mine else mark.who.name
        value = with_unit(mark.value, mark.unit)
        texts.append((f"In pencil: {value}, {who}, {ago(mark.at, now)}", "pencil"))
    if figures:
        names = ", ".join(dict.fromkeys(figures))
        texts.append((f"Figures that follow from it: {names}", ""))
    return texts
