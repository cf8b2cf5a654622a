"""What the engine answers with: frozen values, the same for every face.

Nothing here computes, and nothing here imports another part of the engine. `serialise`
makes JSON-ready dictionaries of them, `wording` says them in words. Names are looked
up when they are asked for first: a screen draws its first picture with the wording,
long before there is an answer.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.views.boxes import Arrived, Disputed, Sent, Synced, Waiting
    from engine.views.clocks import Backwards, Clocks
    from engine.views.figures import (
        Expected,
        Figure,
        FigureChange,
        FigureInput,
        FigureKind,
        Filled,
        FittedTray,
        Verdict,
    )
    from engine.views.papers import Paper, PlateFormat
    from engine.views.past import Creep, HistoryPage, Moved, Stood
    from engine.views.people import Hint, Identity, Shared, Who
    from engine.views.pictures import (
        Bites,
        CannotTell,
        CycleBar,
        PieceHeld,
        RoundBars,
        TrayPlan,
        TrayReach,
        TrayScale,
        Units,
        Which,
    )
    from engine.views.programs import CodeUse, EndWord, Extent, ProgramChange, ProgramFacts
    from engine.views.records import (
        Confirmed,
        Finding,
        Level,
        Listed,
        LogEntry,
        Mark,
        RunState,
        TakenOut,
    )
    from engine.views.upgrades import LeftAlone, Upgraded, UpgradedFile
    from engine.views.values import (
        Change,
        Comparison,
        Decision,
        Draft,
        FieldRow,
        Inked,
        OnDisk,
        Pencilled,
        PositionChange,
        Shown,
        Traced,
        Unusable,
    )

_MODULES = (
    *("values", "people", "records", "past", "figures"),
    *("boxes", "clocks", "papers", "programs", "pictures", "upgrades"),
)

__all__ = [
    "Arrived",
    "Backwards",
    "Bites",
    "CannotTell",
    "Change",
    "Clocks",
    "CodeUse",
    "Comparison",
    "Confirmed",
    "Creep",
    "CycleBar",
    "Decision",
    "Disputed",
    "Draft",
    "EndWord",
    "Expected",
    "Extent",
    "FieldRow",
    "Figure",
    "FigureChange",
    "FigureInput",
    "FigureKind",
    "Filled",
    "Finding",
    "FittedTray",
    "Hint",
    "HistoryPage",
    "Identity",
    "Inked",
    "LeftAlone",
    "Level",
    "Listed",
    "LogEntry",
    "Mark",
    "Moved",
    "OnDisk",
    "Paper",
    "Pencilled",
    "PieceHeld",
    "PlateFormat",
    "PositionChange",
    "ProgramChange",
    "ProgramFacts",
    "RoundBars",
    "RunState",
    "Sent",
    "Shared",
    "Shown",
    "Stood",
    "Synced",
    "TakenOut",
    "Traced",
    "TrayPlan",
    "TrayReach",
    "TrayScale",
    "Units",
    "Unusable",
    "Upgraded",
    "UpgradedFile",
    "Verdict",
    "Waiting",
    "Which",
    "Who",
]

if not TYPE_CHECKING:  # a name that is not there must stay an error to the type checker

    def __getattr__(name: str) -> object:
        """A name of the list above, from the first module that has it."""
        for module in _MODULES if name in __all__ else ():
            found = getattr(import_module(f"engine.views.{module}"), name, None)
            if found is not None:
                globals()[name] = found
                return found
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
