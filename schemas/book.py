"""What holds for a whole book: its name, where links may lead, and the policy.

All lengths of the policy are mm. Absent means that no rule was made.
"""

from __future__ import annotations

from typing import Literal

from schemas.fields import Key, Section, Text, field, needed, table
from schemas.number import Number
from schemas.record import Notes


class BookHeader(Section):
    """What this book is."""

    name: Text = needed("what people call the book")
    id: Key = needed("identity of the book, printed on papers")


class Roots(Section):
    """Folders in which linked files may lie, relative to the book."""

    programs: list[Text] | None = field("folders of part programs")
    photos: list[Text] | None = field("folders of reference photos")


class Policy(Section):
    """Rules of the shop: reasons, limits, safety factors, tolerances."""

    reason_for: list[Text] | None = field(
        "addresses whose change needs a reason, for example positions.*"
    )
    stale_pencil_days: Number | None = field("age from which pencil counts as forgotten", "d")
    travel_margin: Number | None = field("room to keep to the ends of travel", "mm")
    hold_safety: Number | None = field("safety factor on the force of the fingers", "1")
    clamp_safety: Number | None = field("safety factor on the force of the jaws", "1")
    free_height_least: Number | None = field("least height between jaws and fingers", "mm")
    finger_clearance_least: Number | None = field("least clearance a side of open fingers", "mm")
    squeeze_least: Number | None = field("least stroke left when the fingers hold", "mm")
    web_least: Number | None = field("least material between pockets", "mm")
    finger_room_least: Number | None = field("least room for a finger between parts", "mm")
    clear_margin: Number | None = field("rise over the bite before any sideways move", "mm")
    agreement_tolerance: Number | None = field("what taught positions may disagree by", "mm")
    teaching_speed_most: Number | None = field("highest speed of the fingers at teaching", "mm/s")


class BookFile(Section):
    """What holds for a whole book."""

    format: Literal[1] = needed("version of this file's format")
    book: BookHeader = needed("what this book is")
    roots: Roots = table("where links may lead")
    policy: Policy = table("rules of the shop")
    notes: Notes = table("words for the next person")

    def program_roots(self) -> list[str]:
        """Folders of part programs; `programs` where the book names none."""
        return self.roots.programs or ["programs"]

    def photo_roots(self) -> list[str]:
        """Folders of reference photos; `photos` where the book names none."""
        return self.roots.photos or ["photos"]


ALWAYS_WITH_REASON = ("positions",)


def reason_patterns(policy: Policy) -> tuple[str, ...]:
    """Patterns whose change needs a reason; a taught position always does."""
    return (*ALWAYS_WITH_REASON, *(policy.reason_for or []))
