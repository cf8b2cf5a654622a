"""Three boxes, a bare repository, and chance: many rounds of what the property test of merging
does.

Each round lets three people ink, rename, copy, retire, run, change programs, take out, decide and
sync in any order, then lets all sync and looks whether the books are equal, every inked value is in
history under the name of who inked it, and no value that nobody overruled is gone.
"""

from __future__ import annotations

import shutil
from random import Random

from tests.campaigns.outcome import Kind, Outcome, Wanted
from tests.engine.merge.boxes import Boxes, founded

STEPS = 40


def run(wanted: Wanted) -> Outcome:
    """`cases` rounds; a round's seed is in its name."""
    outcome = Outcome()
    pattern = wanted.place / "pattern"
    pattern.mkdir()
    founded(pattern)
    for seed in range(wanted.seed, wanted.seed + wanted.cases):
        chance = Random(seed)
        steps = [tuple(chance.randrange(n) for n in (3, 14, 4, 12)) for _ in range(STEPS)]
        folder = wanted.place / f"round-{seed}"
        boxes = Boxes.fresh(pattern, folder)
        outcome.cases += 1
        with outcome.looking(f"round {seed}", Kind.LOST):
            boxes.play(steps)  # type: ignore[arg-type]
            boxes.check()
        outcome.counts.update(boxes.counts())
        boxes.close()
        shutil.rmtree(folder)
    return outcome
