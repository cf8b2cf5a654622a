"""A cell is a machine and the loader that feeds it, whatever their shape.

Axis values, travels and speeds are in the axis' own unit. Stations and legs are
the cell's own round, in the order in which `round` lists them; nothing here
assumes a gantry, an arm, a mill or a lathe.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from schemas.fields import Key, Section, Text, field, needed, table
from schemas.number import Number
from schemas.record import Notes


class CellHeader(Section):
    """What this cell is, and how its program ends are spelt."""

    name: Text = needed("what people call the cell")
    machine: Text | None = field("the machine, in words")
    loader: Text | None = field("the loader, in words")
    axes: list[Key] | None = field("names of the axes in the order to show them")
    round: list[Key] | None = field("stations of one round, in order")
    swap: Literal["one visit", "two visits"] | None = field(
        "whether part and blank change hands in one visit to the machine"
    )
    ends_tended: list[Text] | None = field("program ends after which the loader goes on")
    ends_attended: list[Text] | None = field("program ends after which a person is waited for")
    teaching_percent: Number | None = field(
        "percent of full speed that the loader keeps to while positions are taught", "%"
    )
    payload_most: Number | None = field(
        "most that the loader carries: grippers, fingers, blank and part", "kg"
    )
    codes: list[Text] | None = field("codes that move door, clamp or loader")
    cuts: Literal["milling", "turning"] | None = field(
        "what the machine does: turning reads X as a diameter and T0404 as a tool with its offset"
    )
    feed_codes: list[Text] | None = field(
        "codes for feed per minute and per revolution, if not G94 and G95 (G98 and G99 at turning)"
    )


class Axis(Section):
    """One axis of the loader or of the machine."""

    of: Literal["loader", "machine"] = needed("what it belongs to")
    kind: Literal["linear", "rotary"] = needed("how it moves")
    unit: Literal["mm", "in", "deg"] = needed("unit of its values")
    least: Number | None = field("lower end of travel", "axis")
    most: Number | None = field("upper end of travel", "axis")
    speed: Number | None = field("full speed", "axis/s")
    acceleration: Number | None = field("acceleration", "axis/s2")
    braking: Number | None = field("braking, if not as the acceleration", "axis/s2")
    stop: Number | None = field("braking at emergency stop", "axis/s2")
    along: Literal["x", "y", "z"] | None = field(
        "direction it moves, or the line it turns about; z up, as the tray lies"
    )
    sign: Literal[1, -1] | None = field("1 if its value grows along that direction, else -1")
    radius: Number | None = field("arm from a rotary axis to the fingers", "mm")
    letter: Literal["X", "Y", "Z", "A", "B", "C", "U", "V", "W"] | None = field(
        "letter of the axis in part programs"
    )


class Gripper(Section):
    """One gripper of the loader."""

    carries: Literal["blank", "part", "both"] = needed("what it carries")
    mass: Number | None = field("mass of the gripper without fingers", "kg")
    offset_x: Number | None = field("from the wrist's centre, at wrist zero", "mm")
    offset_y: Number | None = field("from the wrist's centre, at wrist zero", "mm")
    offset_z: Number | None = field("from the wrist's centre, at wrist zero", "mm")
    turned_by: Key | None = field("the rotary axis that turns it")
    faces: Literal["x", "-x", "y", "-y", "-z"] | None = field(
        "where its fingers point at wrist zero; down if absent"
    )
    closing: Literal["x", "y", "z"] | None = field("direction in which its fingers close")


class Bed(Section):
    """Where the tray lies."""

    across: Number | None = field("room for a plate across", "mm")
    along: Number | None = field("room for a plate along", "mm")
    corner: Literal["near left", "near right", "far left", "far right"] | None = field(
        "corner of pocket r1c1"
    )
    path: (
        Literal["row by row", "rows back and forth", "column by column", "columns back and forth"]
        | None
    ) = field("order over the grid")
    across_axis: Key | None = field("axis that moves along a row")
    along_axis: Key | None = field("axis that moves from row to row")
    up_axis: Key | None = field("axis that lifts")
    clear_height: Number | None = field("height over a loaded tray, above its parts", "mm")
    keep_empty: int | None = field(
        "pockets of a fill left empty for parts that come back before a blank is taken"
    )


class Station(Section):
    """A named visit to a place."""

    place: Literal["tray", "jaws", "turn-over", "chute", "wait"] = needed("where it is")
    does: Literal["take", "give", "pass", "wait"] = needed("what happens there")
    gripper: Key | None = field("gripper that is used")
    axes: list[Key] = needed("axes that its taught position names")
    over_tray: bool | None = field("taught at r1c1; the grid gives the other pockets")
    out: Literal["x", "-x", "y", "-y", "z"] | None = field(
        "direction that leads out of the place; up if absent"
    )
    depth: Number | None = field("depth in which a place other than tray or jaws holds", "mm")


class Leg(Section):
    """The way from one station to the next."""

    start: Key = needed("station it starts from")
    end: Key = needed("station it ends at")
    path: Literal["straight", "free"] | None = field("straight keeps the line, free does not")
    moves: list[Text] | None = field("moves one after another; axes together joined by +")
    via: dict[Key, Number] = table("value in between of an axis that moves twice", "axis")


class RestTimes(Section):
    """Rests that the cell always takes."""

    door: Number | None = field("door, one way", "s")
    clamp: Number | None = field("jaws, one way", "s")
    grip: Number | None = field("fingers, one way", "s")
    reaction: Number | None = field("from seeing that something is wrong to the braking", "s")


class Cell(Section):
    """A machine and the loader that feeds it."""

    format: Literal[1] = needed("version of this file's format")
    cell: CellHeader = needed("what this cell is")
    axes: dict[Key, Axis] = table("axes, by name")
    grippers: dict[Key, Gripper] = table("grippers, by name")
    bed: Bed = table("where the tray lies")
    stations: dict[Key, Station] = table("stations, by name")
    legs: dict[Key, Leg] = table("legs of the round, by name")
    times: RestTimes = table("rests that the cell always takes")
    notes: Notes = table("words for the next person")

    def axis_order(self) -> list[str]:
        """Axis names as the cell wants them shown; those it forgot come last."""
        return listed_first(self.cell.axes, self.axes)

    def station_order(self) -> list[str]:
        """Station names in the order of the round; those outside it come last."""
        return listed_first(self.cell.round, self.stations)


def listed_first(listed: Iterable[str] | None, names: Iterable[str]) -> list[str]:
    """Every name once: those that are listed in that order, then the others as they come."""
    every = dict.fromkeys(names)
    return list(dict.fromkeys([*(name for name in listed or () if name in every), *every]))
