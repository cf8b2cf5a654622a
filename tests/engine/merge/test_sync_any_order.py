"""Three boxes, random edits, random order of syncs: equal books, nothing lost, nobody wronged.

The property is that of docs/sync.md; no published case.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from tests.engine.merge.boxes import Boxes, founded

STEPS = st.lists(
    st.tuples(st.integers(0, 2), st.integers(0, 13), st.integers(0, 3), st.integers(0, 11)),
    min_size=2,
    max_size=14,
)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return founded(tmp_path_factory.mktemp("three"))


@settings(max_examples=8, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(steps=STEPS)
def test_boxes_end_equal_and_nothing_is_lost(template, tmp_path_factory, steps):
    boxes = Boxes.fresh(template, tmp_path_factory.mktemp("boxes") / "three")
    try:
        boxes.play(steps)
        boxes.check()
    finally:
        boxes.close()
