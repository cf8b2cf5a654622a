"""Rules on a cell's own file: do its names name anything, and can its ends be told apart."""

from __future__ import annotations

from collections.abc import Iterator

from engine.checks.linked import attended_ends, tended_ends
from engine.checks.rule import Say, Says, rule
from engine.checks.view import CellView
from engine.programs import canonical_code
from schemas.address import show


@rule("leg-unknown", "error", "Correct the leg, or add the station or axis to the cell.", "cell")
def leg_unknown(view: CellView) -> Says:
    """A leg names a station or an axis that the cell does not have."""
    cell = view.model
    for name, leg in cell.legs.items():
        for key, station in (("start", leg.start), ("end", leg.end)):
            if station not in cell.stations:
                yield Say(f"legs.{name}.{key}", f"there is no station {station!r}")
        for move in leg.moves or []:
            for axis in move.split("+"):
                if axis.strip() not in cell.axes:
                    yield Say(f"legs.{name}.moves", f"there is no axis {axis.strip()!r}")


@rule("round-unknown", "error", "Correct the round, or add the station to the cell.", "cell")
def round_unknown(view: CellView) -> Says:
    """The round names a station that the cell does not have."""
    for station in view.model.cell.round or []:
        if station not in view.model.stations:
            yield Say("cell.round", f"there is no station {station!r}")


@rule("gripper-unknown", "error", "Correct the station, or add the gripper to the cell.", "cell")
def gripper_unknown(view: CellView) -> Says:
    """A station uses a gripper that the cell does not have."""
    for name, station in view.model.stations.items():
        if station.gripper is not None and station.gripper not in view.model.grippers:
            yield Say(f"stations.{name}.gripper", f"there is no gripper {station.gripper!r}")


@rule("axis-unknown", "error", "Correct the name, or add the axis to the cell.", "cell")
def axis_unknown(view: CellView) -> Says:
    """A station, a gripper, the bed or the order names an axis that the cell does not have."""
    for address, axis in _named_axes(view):
        if axis not in view.model.axes:
            yield Say(address, f"there is no axis {axis!r}")


def _named_axes(view: CellView) -> Iterator[tuple[str, str]]:
    cell = view.model
    yield from (("cell.axes", axis) for axis in cell.cell.axes or [])
    for name, station in cell.stations.items():
        yield from ((f"stations.{name}.axes", axis) for axis in station.axes)
    for name, gripper in cell.grippers.items():
        if gripper.turned_by is not None:
            yield f"grippers.{name}.turned_by", gripper.turned_by
    for key in ("across_axis", "along_axis", "up_axis"):
        axis = getattr(cell.bed, key)
        if axis is not None:
            yield f"bed.{key}", axis


@rule("travel-reversed", "error", "Write the lower end of travel as least.", "cell")
def travel_reversed(view: CellView) -> Says:
    """The lower end of an axis' travel is above the upper one."""
    for name, axis in view.model.axes.items():
        if axis.least is not None and axis.most is not None and axis.least > axis.most:
            yield Say(
                f"axes.{name}.least",
                f"the travel of {name} begins at {show(axis.least)} and ends at {show(axis.most)}",
            )


@rule("code-unreadable", "error", "Write one letter and one number, for example M30.", "cell")
def code_unreadable(view: CellView) -> Says:
    """A code of the cell is no code of one letter and one number."""
    for key in ("ends_tended", "ends_attended", "codes"):
        for text in getattr(view.model.cell, key) or []:
            try:
                canonical_code(text)
            except ValueError:
                yield Say(f"cell.{key}", f"{text!r} is no code")


@rule(
    "ends-unclear", "warning", "Say in cell.ends_tended and cell.ends_attended what is so.", "cell"
)
def ends_unclear(view: CellView) -> Says:
    """The cell does not say how a program must end, or gives one code both meanings."""
    tended, attended = tended_ends(view.model), attended_ends(view.model)
    if not tended:
        yield Say("cell.ends_tended", "no end is named after which the loader goes on")
    for code in tended:
        if code in attended:
            yield Say(
                "cell.ends_attended", f"{code} cannot both let the loader go on and make it wait"
            )
