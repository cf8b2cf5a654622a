"""Files that are ready to be written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

PlateFormat = Literal["dxf", "svg"]


@dataclass(frozen=True, slots=True)
class Paper:
    """A file that is ready to be written. `notes` are for the person who asked for it."""

    name: str  # a name to write it under
    data: bytes
    document: str
    commit: str
    superseded: str = ""  # the newer ink in words, empty where there is none
    notes: tuple[str, ...] = ()
