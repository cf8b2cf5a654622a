"""The old book with one of its people in front of it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.shop_floor import Opener, Stepping

CAP, LONG, SHORT = "cap-op10", "sleeve-long-op20", "cap-short-op10"
CAP_ID = "wm-cap0k7"


@pytest.fixture
def old(old_book: Path) -> Iterator[Opener]:
    """`old("noor")`: the old book opened by a person; vera sets, noor leads, pelle audits."""
    people = Opener(old_book, Stepping())
    yield people
    people.close()
