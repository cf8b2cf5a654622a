"""What the clocks of boxes leave open, and what a merge decided, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.views.wording.counts import count
from engine.views.wording.moments import how_old, moment
from engine.views.wording.values import value_words

if TYPE_CHECKING:
    from engine.views import Backwards, Clocks, Traced, Who


def backwards_words(item: Backwards) -> str:
    """One save that is stamped earlier than the one it stands on."""
    by = how_old(item.stamped, item.after).removesuffix(" old")
    return (
        f"save {item.commit[:10]} of {item.who.name} is stamped {moment(item.stamped)}, "
        f"{by} before the save that it stands on"
    )


def clock_words(clocks: Clocks | None) -> list[str]:
    """What to know of an answer that a moment was asked for; nothing where clocks are right."""
    if clocks is None:
        return []
    said = []
    if clocks.backwards:
        many = count(clocks.backwards, "stamp runs", "stamps run")
        said.append(
            f"{many} backwards: {backwards_words(clocks.last[-1])}. Saves count in their order, "
            "and what may be later than the moment is shown."
        )
    if clocks.ahead:
        said.append("Some stamps lie in the future by this clock: they are not believed.")
    return said


def decided_words(item: Traced) -> str:
    """Between whom a merge decided: `merged: kept 7.5 of Anna, against 7.8 of Ben`."""
    if item.merged is None:
        return ""
    kept, against = value_words(item.change.new), value_words(item.change.old)
    return (
        f"merged: kept {_of(kept, item.merged.kept_by)}, "
        f"against {_of(against, item.merged.against_by)}"
    )


def _of(value: str, who: Who | None) -> str:
    return f"{value} of {who.name}" if who else f"the older {value}"
