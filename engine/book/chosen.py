"""Which of my pencil an ink takes, and what became of what is no longer in pencil.

Invariant: what was named is inked and nothing else; older pencil stays and is told. The
coupled group (heights, bites, jaws, fingers, tray, positions) is never torn in silence:
where older pencil of it is not named, the person says whether it goes along.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from engine.book.linked_files import links_of
from engine.book.session import Held
from engine.drafts.marks import PencilMark
from engine.drafts.pencil import Pencil
from engine.log.commits import Saved
from engine.views.wording import ago, joined, moment
from schemas.address import lies_in, same_value, show
from schemas.document import Document, name_of
from schemas.errors import BelongsTogether
from schemas.record import is_coupled, is_link

Group = Literal["ask", "with", "without"]


@dataclass(frozen=True)
class Wanted:
    """What is to be inked: what lies at or below the addresses; all where none is named.

    `group`: whether older pencil of the coupled group goes `with` what was named or stays,
    `without`; `ask` refuses where there is any. `files`: changed program and photos go along
    as they do with all of the pencil.
    """

    only: tuple[str, ...] = ()
    group: Group = "ask"
    files: bool = False

    def names(self, address: str) -> bool:
        """Whether an address was named, or is the hash of a photo that was."""
        return any(
            lies_in(address, named) or (is_link(named) and address == _hash_of(named))
            for named in self.only
        )


def _hash_of(link: str) -> str:
    """The address of a photo's hash, which is taken with its path; a program's is set by itself."""
    return "" if link == "program.file" else link.removesuffix("file") + "sha256"


def choose(
    held: Held, marks: Sequence[PencilMark], wanted: Wanted
) -> tuple[list[PencilMark], list[PencilMark]]:
    """Marks to be inked, and those that stay. BelongsTogether where the person has to say."""
    if not wanted.only:
        return list(marks), []
    chosen = [mark for mark in marks if wanted.names(mark.address)]
    coupled = held.is_record and any(is_coupled(mark.address) for mark in chosen)
    older = [m for m in marks if coupled and m not in chosen and is_coupled(m.address)]
    if older and wanted.group == "ask":
        raise _belongs_together(held, older)
    if wanted.group == "with":
        chosen = [mark for mark in marks if mark in chosen or mark in older]
    return chosen, [mark for mark in marks if mark not in chosen]


def _belongs_together(held: Held, older: Sequence[PencilMark]) -> BelongsTogether:
    inked, now = held.values(), held.session.clock()
    listed = [
        f"{mark.address} {show(inked.get(mark.address)) or 'nothing'} -> "
        f"{show(mark.value) or 'nothing'} ({ago(mark.at, now)})"
        for mark in older
    ]
    return BelongsTogether(
        "older pencil of yours belongs together with what you ink: " + ", ".join(listed),
        where=held.name,
        hint="Nothing was inked. Say which, with the same command: --with-group inks these as "
        "well, --only-this inks what you named, and these stay in pencil.",
    )


def links_to_ink(
    new: Document, linked: Mapping[str, bytes], marks: Sequence[PencilMark], wanted: Wanted
) -> tuple[dict[str, bytes], list[str]]:
    """Linked files that go along, and what is said of changed ones that were not named."""
    if wanted.files or not wanted.only:
        return dict(linked), []
    named = [_table_of_link(address) for address in (*wanted.only, *(m.address for m in marks))]
    along = {path for link, path in links_of(new).items() if _table_of_link(link) in named}
    said = [
        f"{path} is not as inked and was not taken along: `ink {name_of(new.path)}` inks it"
        for path in linked
        if path not in along
    ]
    return {path: data for path, data in linked.items() if path in along}, said


def _table_of_link(address: str) -> str:
    """The table that a link and its hash stand in; empty for any other address."""
    table, _, name = address.rpartition(".")
    return table if name in ("file", "sha256") and is_link(f"{table}.file") else ""


# what is no longer in pencil


def already_inked(held: Held, addresses: Sequence[str], reason: str) -> list[str]:
    """What stands at addresses that are not in pencil (any more), and who inked it, in words."""
    past, stands = held.session.past, held.values()
    said = []
    for address in addresses:
        rows = past.rows(held.key, lambda known, at=address: lies_in(known, at))  # type: ignore[misc]
        stood = [row for row in rows if same_value(row.new, stands.get(row.address))]
        if stood:
            last = stood[-1]
            value = show(stands.get(last.address)) or "nothing"
            said.append(f"{last.address} is {value} in ink, {_by(held, last.saved, reason)}")
        else:
            said.append(f"{address} has nothing in ink or in pencil")
    return said


def last_of_pencil(held: Held, pencil: Pencil, reason: str = "") -> str:
    """What became of my pencil on a document where there is none, in words; empty if never any."""
    entries = pencil.journal.entries()
    last = entries[-1] if entries else {}
    if last.get("do") == "inked":
        saved = held.session.past.saved(str(last.get("commit", "")))
        names = [str(mark["address"]) for mark in last.get("marks", ())]
        shown = joined(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
        return f"your pencil ({shown}) is in ink, {_by(held, saved, reason)}" if saved else ""
    if last.get("do") == "rub-out":
        return f"your pencil was rubbed out; `pencil {held.name} --bring-back` brings it back"
    return ""


def _by(held: Held, saved: Saved, reason: str) -> str:
    """Who inked it, when and why, and whether a reason of mine was lost on the way."""
    who = "you" if saved.who.key == held.session.identity.key else saved.who.name
    why = f"with the reason {saved.reason!r}" if saved.reason else "without a reason"
    mine = reason.strip()
    lost = f"; your reason {mine!r} was not used" if mine and mine != saved.reason else ""
    return f"inked {moment(saved.when)} by {who} {why}{lost}"


def how_to_record(held: Held, reason: str) -> str:
    """What to do about a reason that was not used."""
    if not reason.strip() or not held.is_record:
        return "Nothing was inked."
    return "Nothing was inked. To record your reason, write it into notes.text and ink that."
