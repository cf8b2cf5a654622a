"""Which figures changed: those that a person should hear of, worst first.

Invariant: a verdict that changed is always told. Of figures of one name that fit
before and after, the largest change stands for all.
"""

from __future__ import annotations

from collections.abc import Sequence

from engine.views import Figure, FigureChange
from engine.views.wording.figures import FITS, number, rank, worsened

_SHARE = 0.01  # a change below one part in a hundred is no news, unless the verdict changed
ABSENT = "not there"


def changed(old: Sequence[Figure], new: Sequence[Figure]) -> list[FigureChange]:
    """Figures whose verdict changed or whose value changed noticeably, worst first.

    Of those with one name that fit before and after, the largest change stands for all.
    A figure that was not there before is told only where it does not plainly fit.
    """
    before = {(f.name, f.at): f for f in old}
    told, fitting = [], dict[str, tuple[float, FigureChange]]()
    for figure in new:
        earlier = before.get((figure.name, figure.at))
        found, fits = _change(earlier, figure), rank(figure.verdict) == FITS
        share = _noticeable(earlier, figure) if earlier else 0.0
        if earlier is None or (earlier.verdict == figure.verdict and not share):
            if earlier is None and not fits:
                told.append(found)
        elif earlier.verdict != figure.verdict or not fits:
            told.append(found)
        elif share > fitting.get(figure.name, (0.0,))[0]:
            fitting[figure.name] = (share, found)
    rest = sorted(fitting.values(), key=lambda pair: -pair[0])
    return [*sorted(told, key=_order), *(found for _, found in rest)]


def _change(old: Figure | None, new: Figure) -> FigureChange:
    return FigureChange(
        new.name,
        new.at,
        new.unit,
        old.value if old else None,
        new.value,
        old.verdict if old else ABSENT,
        new.verdict,
        new.group,
        new.limit,
    )


def _order(change: FigureChange) -> tuple[bool, int]:
    """What got worse first, then by what it is now."""
    return not worsened(change), rank(change.new_verdict)


def _noticeable(old: Figure, new: Figure) -> float:
    """The change as a share of the old value; 0 where it is no news."""
    if old.value is None or new.value is None:
        return 0.0
    step = abs(new.value - old.value)
    if number(old.value, old.unit) == number(new.value, new.unit):
        return 0.0
    share = step / abs(old.value) if old.value else 1.0
    if new.margin is not None and old.margin:
        share = max(share, step / abs(old.margin))
    return share if share >= _SHARE else 0.0
