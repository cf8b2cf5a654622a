"""How much work something is, counted: the same on a quiet machine and on a busy one."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import FrameType
from typing import Any


def steps(work: Callable[[], object]) -> int:
    """Lines of Python that are carried out while `work` is called, in this thread."""
    count = 0

    def look(frame: FrameType, event: str, arg: Any) -> Callable[..., Any]:
        nonlocal count
        count += event == "line"
        return look

    before = sys.gettrace()
    sys.settrace(look)
    try:
        work()
    finally:
        sys.settrace(before)
    return count
