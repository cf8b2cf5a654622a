"""Rules on a record's values beside its cell: stations, axes, travels, stages, other records."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import pairwise

from engine.book.session import Held
from engine.checks.book_view import BookView
from engine.checks.rule import Say, Says, gathered, rule
from engine.checks.view import RecordView
from engine.views.wording import count
from schemas.address import show

Taught = dict[str, tuple[str, int]]  # by station: its axes' values, and the line


@rule("unknown-cell", "error", "Correct record.cell, or have a lead add the cell.")
def unknown_cell(view: RecordView) -> Says:
    """A record runs on a cell that the book does not have."""
    name = view.model.record.cell
    if not view.inked_at(f"cells/{name}.toml"):
        known = ", ".join(cell for cell, model in view.cells().items() if model is not None)
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


@gathered("positions")
def taught(view: RecordView) -> object:
    """Program and cell, and what is taught at each station, with the line that it stands in."""
    program = view.model.program.file
    if program is None:
        return None
    stations = {
        station: [_spelt(axes), view.line_of(f"positions.{station}")]
        for station, axes in view.model.positions.items()
    }
    return [program, view.model.record.cell, stations]


def _spelt(axes: dict[str, Decimal]) -> str:
    """A position as a text that is the same for the same values, however they are spelt."""
    return " ".join(f"{axis}={axes[axis].normalize()}" for axis in sorted(axes))


@rule(
    "other-positions",
    "warning",
    "If they are one set-up, retire one record; if not, give each its own program.",
    "book",
    ("record",),
)
def other_positions(view: BookView) -> Says:
    """Two records of one cell run one program with different taught positions."""
    groups: dict[tuple[str, str], list[tuple[Held, Taught]]] = {}
    for held, (program, cell, stations) in view.gathered(taught):
        groups.setdefault((program, cell), []).append((held, stations))
    for (program, _), group in groups.items():
        yield from _against_others(group, program)


def _against_others(group: Sequence[tuple[Held, Taught]], program: str) -> Says:
    """One thing to say about each record, however many others differ from it."""
    alike: dict[tuple[tuple[str, str], ...], list[int]] = {}
    for n, (_, stations) in enumerate(group):
        alike.setdefault(_key(stations), []).append(n)
    firsts = [numbers[0] for numbers in alike.values()]
    for held, mine in group if len(alike) > 1 else ():
        same = alike[_key(mine)]
        name, other = next((group[n][0].name, group[n][1]) for n in firsts if n != same[0])
        differing = _differing(mine, other)
        left = len(group) - len(same) - 1
        more = f" (and {count(left, 'more record does', 'more records do')})" if left else ""
        yield Say(
            f"positions.{differing[0]}",
            f"{name} runs the same program, {program}, with other positions: "
            f"{', '.join(differing)}{more}",
            document=held.name,
            line=mine[differing[0]][1] if differing[0] in mine else 0,
        )


def _key(stations: Taught) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((station, spelt) for station, (spelt, _) in stations.items() if spelt))


def _differing(one: Taught, other: Taught) -> list[str]:
    """Stations that both records have taught, not alike; all of one where the other has none."""
    nothing = ("", 0)
    both = dict.fromkeys([*one, *other])
    return [s for s in both if one.get(s, nothing)[0] != other.get(s, nothing)[0]]
