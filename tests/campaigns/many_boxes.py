"""Three boxes, a bare repository, and chance: many rounds of what the property test does.

    python -m tests.campaigns.many_boxes --rounds 200 --steps 40 --seed 1 [--in /dev/shm]

Each round lets three people ink, rename, copy, retire, run, change programs, take
out, decide and sync in any order, then lets all sync and looks whether the books
are equal, every inked value is in history under the name of who inked it, and no
value that nobody overruled is gone. Prints the seed of a round that fails.
"""

# ruff: noqa: T201 (this one is run by hand and tells what it found)
from __future__ import annotations

import argparse
import collections
import random
import shutil
import sys
import tempfile
import traceback
from pathlib import Path

from tests.engine.merge.boxes import Boxes, founded


def main() -> int:
    """Run the rounds; 1 where one of them fails."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=50)
    parser.add_argument("--steps", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--in", dest="where", default=None)
    wanted = parser.parse_args()
    place = Path(tempfile.mkdtemp(dir=wanted.where))
    template = founded(place)
    counts: collections.Counter[str] = collections.Counter()
    for seed in range(wanted.seed, wanted.seed + wanted.rounds):
        chance = random.Random(seed)
        steps = [tuple(chance.randrange(n) for n in (3, 14, 4, 12)) for _ in range(wanted.steps)]
        folder = place.parent / f"{place.name}-{seed}"
        boxes = Boxes.fresh(template, folder)
        try:
            boxes.play(steps)  # type: ignore[arg-type]
            boxes.check()
        except Exception:
            counts["failed"] += 1
            print(f"seed {seed} failed, see {folder}")
            traceback.print_exc(limit=-4, file=sys.stdout)
            continue
        finally:
            counts.update(boxes.counts())
            boxes.close()
        shutil.rmtree(folder)
    shutil.rmtree(place)
    print(f"{wanted.rounds} rounds of {wanted.steps} steps: {dict(counts)}")
    return 1 if counts["failed"] else 0


if __name__ == "__main__":
    sys.exit(main())
