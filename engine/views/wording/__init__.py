"""What the engine answers, in words: one wording for the command line, the screens and papers.

Invariant: nothing here depends on colour, on the width of a screen, or on the present
moment: what needs one is given it. Layout is not wording and stands where it is
drawn. Figures and lengths have modules of their own, `figures` and `lengths`.
"""

from engine.views.wording.clocks import backwards_words, clock_words, decided_words
from engine.views.wording.counts import count, joined, spans
from engine.views.wording.moments import (
    age,
    ago,
    clock_time,
    clock_times,
    day,
    how_old,
    moment,
    written_at,
)
from engine.views.wording.people import people_of, person, person_and_login
from engine.views.wording.standing import (
    NOT_YET,
    SIGNED,
    changed_since_run,
    confirmed_words,
    finding_words,
    pencil_words,
    ran_in,
    run_result,
    run_words,
    runs_words,
)
from engine.views.wording.values import (
    NO_VALUE,
    UNREADABLE,
    address_words,
    differ_words,
    difference,
    is_record,
    moved_words,
    new_words,
    old_words,
    short,
    signed,
    unit_word,
    value_words,
    with_unit,
)

__all__ = [
    "NOT_YET",
    "NO_VALUE",
    "SIGNED",
    "UNREADABLE",
    "address_words",
    "age",
    "ago",
    "backwards_words",
    "changed_since_run",
    "clock_time",
    "clock_times",
    "clock_words",
    "confirmed_words",
    "count",
    "day",
    "decided_words",
    "differ_words",
    "difference",
    "finding_words",
    "how_old",
    "is_record",
    "joined",
    "moment",
    "moved_words",
    "new_words",
    "old_words",
    "pencil_words",
    "people_of",
    "person",
    "person_and_login",
    "ran_in",
    "run_result",
    "run_words",
    "runs_words",
    "short",
    "signed",
    "spans",
    "unit_word",
    "value_words",
    "with_unit",
    "written_at",
]
