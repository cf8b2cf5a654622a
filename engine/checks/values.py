"""Rules on a record's values beside its cell: stations, axes, travels, stages, other records."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from engine.checks.rule import Say, Says, rule
from engine.checks.view import BookView, RecordView
from engine.views.wording import count
from schemas.address import same_value, show

Positions = dict[str, dict[str, Decimal]]


@rule("unknown-cell", "error", "Correct record.cell, or have a lead add the cell.")
def unknown_cell(view: RecordView) -> Says:
    """A record runs on a cell that the book does not have."""
    name = view.model.record.cell
    if f"cells/{name}" not in view.book.documents:
        known = ", ".join(cell.removeprefix("cells/") for cell in view.book.cells)
        yield Say("record.cell", f"the book has no cell {name!r}; it has {known or 'none'}")


@rule("unknown-station", "error", "Take it out, or correct its name to one that the cell has.")
def unknown_station(view: RecordView) -> Says:
    """A position or an approach belongs to a station that the cell does not have."""
    cell = view.cell
    if cell is None:
        return
    for table in ("positions", "approach"):
        for station in getattr(view.model, table):
            if station not in cell.stations:
                yield Say(f"{table}.{station}", f"{cell.cell.name} has no station {station!r}")


@rule("unknown-axis", "error", "Take it out, or correct its name to one that the station has.")
def unknown_axis(view: RecordView) -> Says:
    """A position has a value for an axis that the station, or the cell, does not have."""
    cell = view.cell
    for station, axis, _ in _values(view):
        if cell is None or station not in cell.stations:
            continue
        address = f"positions.{station}.{axis}"
        if axis not in cell.axes:
            yield Say(address, f"{cell.cell.name} has no axis {axis!r}")
        elif axis not in cell.stations[station].axes:
            yield Say(address, f"the station {station} of {cell.cell.name} has no axis {axis!r}")


@rule(
    "position-missing", "warning", "Teach it, and `witnessmark set {record} {address}.AXIS=VALUE`."
)
def position_missing(view: RecordView) -> Says:
    """A station of the cell has no taught position."""
    cell, taught = view.cell, view.model.positions
    if cell is None:
        return
    wanted = [name for name in cell.station_order() if cell.stations[name].axes]
    if wanted and not taught:
        yield Say("positions", "no position is taught yet", "Teach the stations of the cell.")
        return
    for station in wanted:
        if not taught.get(station):
            yield Say(f"positions.{station}", f"the station {station} has no taught position")


@rule("axis-missing", "error", "Read the axis where the position was taught, and set it.")
def axis_missing(view: RecordView) -> Says:
    """A taught position lacks an axis, so that it cannot be brought back."""
    cell = view.cell
    for station, taught in view.model.positions.items() if cell else ():
        assert cell is not None
        axes = cell.stations[station].axes if station in cell.stations and taught else []
        for axis in axes:
            if axis not in taught:
                yield Say(
                    f"positions.{station}.{axis}",
                    f"the position {station} has no value for the axis {axis}",
                )


@rule("outside-travel", "error", "Teach the position again, or correct the typing.")
def outside_travel(view: RecordView) -> Says:
    """A taught value lies outside the travel of its axis."""
    for station, name, value in _values(view):
        axis = view.cell.axes.get(name) if view.cell else None
        if axis is None:
            continue
        address = f"positions.{station}.{name}"
        if axis.least is not None and value < axis.least:
            yield Say(
                address,
                f"{show(value)} {axis.unit} is below the travel of {name}, "
                f"which begins at {show(axis.least)}",
            )
        if axis.most is not None and value > axis.most:
            yield Say(
                address,
                f"{show(value)} {axis.unit} is above the travel of {name}, "
                f"which ends at {show(axis.most)}",
            )


def _values(view: RecordView) -> Iterator[tuple[str, str, Decimal]]:
    for station, axes in view.model.positions.items():
        for axis, value in axes.items():
            yield station, axis, value


@rule("stages", "error", "Write them rising, for example 12, 40, 75, 100 percent of full speed.")
def stages(view: RecordView) -> Says:
    """Prove-out stages do not rise, or leave the span from 0 to 100 percent."""
    steps = view.model.lot.stages or []
    text = show(list(steps))
    if any(not 0 < step <= 100 for step in steps):
        yield Say("lot.stages", f"a stage is above 0 and at most 100 percent: {text}")
    if any(later <= step for step, later in pairwise(steps)):
        yield Say("lot.stages", f"each stage is faster than the one before: {text}")


@rule(
    "other-positions",
    "warning",
    "If they are one set-up, retire one record; if not, give each its own program.",
    "book",
)
def other_positions(view: BookView) -> Says:
    """Two records of one cell run one program with different taught positions."""
    groups: dict[tuple[str, str], list[RecordView]] = {}
    for record in view.in_use():
        if record.model.program.file is not None:
            work = (record.model.program.file, record.model.record.cell)
            groups.setdefault(work, []).append(record)
    for (program, _), group in groups.items():
        for one in group:
            yield from _against_others(one, group, program)


def _against_others(one: RecordView, group: list[RecordView], program: str) -> Says:
    """One thing to say about a record, however many others differ from it."""
    differing = {
        other.name: stations
        for other in group
        if other is not one and (stations := _differing(one.model.positions, other.model.positions))
    }
    if not differing:
        return
    name, stations = next(iter(differing.items()))
    left = len(differing) - 1
    more = f" (and {count(left, 'more record does', 'more records do')})" if left else ""
    yield Say(
        f"positions.{stations[0]}",
        f"{name} runs the same program, {program}, with other positions: "
        f"{', '.join(stations)}{more}",
        document=one.name,
    )


def _differing(one: Positions, other: Positions) -> list[str]:
    """Stations that both records have taught, not alike; all of one where the other has none."""
    return [
        station
        for station in dict.fromkeys([*one, *other])
        if not _alike(one.get(station, {}), other.get(station, {}))
    ]


def _alike(one: dict[str, Decimal], other: dict[str, Decimal]) -> bool:
    return one.keys() == other.keys() and all(same_value(one[a], other[a]) for a in one)
