"""Lengths of pictures, which are mm, in the unit that the record's are typed in."""

from __future__ import annotations

from engine.views.pictures import Units
from schemas.factors import MM_PER_UNIT

_PLACES = {"in": 4, "mm": 3}


def length(millimetres: float, unit: Units) -> str:
    """A length as a person would have typed it, without its unit."""
    text = f"{millimetres / MM_PER_UNIT[unit]:.{_PLACES[unit]}f}"
    whole, _, part = text.partition(".")
    text = f"{whole}.{part.rstrip('0') or '0'}"
    return text.removeprefix("-") if not text.strip("-0.") else text


def unit_in_words(unit: Units) -> str:
    """The unit for a sentence."""
    return "inches" if unit == "in" else unit
