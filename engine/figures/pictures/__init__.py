"""What pictures of a set-up show, worked out from facts; the drawing is done elsewhere.

Each answers with a frozen value of `engine.views.pictures`; nothing here knows of
lines, signs or widths.
"""

from engine.figures.pictures.bites import bites
from engine.figures.pictures.rounds import round_bars, staged_round
from engine.figures.pictures.tray import tray_plan

__all__ = ["bites", "round_bars", "staged_round", "tray_plan"]
