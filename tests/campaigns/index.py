"""Flipped bytes: the index of a book's past is spoilt at random, and no answer may change.

The histories and the questions are those of `flipped_bytes`; the long form has many of them.
"""

from __future__ import annotations

import logging

from tests.campaigns.flipped_bytes import Campaign
from tests.campaigns.outcome import Kind, Outcome, Wanted

FIRST = 10  # so that the usual seed begins where the results in docs/speed.md do
EACH = 240  # cases of one random history


def run(wanted: Wanted) -> Outcome:
    """`cases` spoilt indexes."""
    logging.disable(logging.WARNING)  # what is noticed is counted; our own faults are told
    outcome = Outcome()
    for seed, first in enumerate(range(0, wanted.cases, EACH), FIRST + wanted.seed):
        (wanted.place / f"seed-{seed}").mkdir()
        try:
            book = Campaign(wanted.place / f"seed-{seed}", seed)
        except AssertionError as error:  # two ways to tell the past that differ from the start
            outcome.complain(Kind.UNANSWERABLE, f"seed {seed}", error)
            continue
        for n in range(min(EACH, wanted.cases - first)):
            book.trial(n)
            outcome.cases += 1
        book.close()
        outcome.counts.update(book.ends)
        for wrong in book.wrong:
            outcome.complain(Kind.UNANSWERABLE, f"seed {seed}", wrong)
    return outcome
