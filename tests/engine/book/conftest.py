"""The demo book on a desk."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.demo_book import Desk


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = Desk(tmp_path / "book")
    yield made
    made.close()
