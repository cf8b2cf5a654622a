"""A record is the set-up of one operation of one job on one cell.

Lengths are in the record's unit, axis values in the unit of the cell's axis,
everything else in the unit its field names. Absent means not known, never zero.
The order of the classes' fields is the order on disk. Dates and authors of
values belong to history and are not repeated here.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from schemas.fields import Key, LongText, Section, Sha256, Text, field, needed, table
from schemas.number import Number

RecordId = Annotated[str, StringConstraints(pattern=r"^wm-[0-9a-z]{6,12}$")]
PocketName = Annotated[str, StringConstraints(pattern=r"^r[1-9]\d{0,3}c[1-9]\d{0,3}$")]
Span = Annotated[list[Number], Field(min_length=2, max_length=2)]
Shape = Literal["round", "bar", "block", "hexagon", "tube"]
Hold = Literal["outside", "inside"]


class Header(Section):
    """What this record is for."""

    id: RecordId = needed("identity of the record; a rename keeps it, a copy replaces it")
    part: Text = needed("what the part is called")
    drawing: Text | None = field("drawing number")
    revision: Text | None = field("revision of the drawing")
    operation: int | None = field("number of the operation")
    cell: Text = needed("the cell it runs on: the name of a file in cells/")
    units: Literal["mm", "in"] = needed("unit of every length in this record, axes apart")
    copied_from: Text | None = field("record and commit that this one was copied from")
    retired: bool | None = field("out of the list; its history stays")


class Program(Section):
    """The part program, and which text of it was proved out."""

    file: Text | None = field("path of the part program in the book")
    sha256: Sha256 | None = field("hash of the program that was proved out")
    spindle_top: Number | None = field("highest spindle speed in it", "1/min")
    ending: Literal["tended", "attended"] | None = field(
        "how it must end: tended = the loader goes on, attended = it waits for a person"
    )


class Tool(Section):
    """One tool in the turret or magazine."""

    what: Text | None = field("what it is")
    diameter: Number | None = field("cutting diameter", "length")
    stick_out: Number | None = field("from the holder's face to the tip", "length")
    length: Number | None = field("gauge length", "length")


class Jaws(Section):
    """What clamps in the machine: vice jaws, chuck jaws or a collet."""

    id: Text | None = field("mark engraved on the jaws")
    kind: Literal["vice", "chuck", "collet"] | None = field("what they belong to")
    place: Text | None = field("where they are kept")
    inside_or_outside: Hold | None = field("whether they clamp outside or inside")
    count: int | None = field("number of jaws that close")
    bite: Number | None = field("depth of material held", "length")
    stroke: Number | None = field("travel of one jaw from open to closed", "length")
    gap: Number | None = field("room between an open jaw and the blank", "length")
    pushes: Literal["x", "-x", "y", "-y"] | None = field(
        "direction in which closing moves the blank: towards the fixed jaw, as the tray lies"
    )
    release: Literal["jaws_close_then_fingers_open", "fingers_open_then_jaws_close"] | None = field(
        "which lets go first when the blank is handed over"
    )
    clamp_pressure: Number | None = field("set clamping pressure", "bar")
    force_per_bar: Number | None = field("clamping force of one jaw for each bar", "N/bar")
    force_least: Number | None = field("clamping force of one jaw that the cut needs", "N")
    force_most: Number | None = field("clamping force of one jaw that the part bears", "N")
    jaw_mass: Number | None = field("mass of one jaw with its base", "kg")
    jaw_radius: Number | None = field("from the spindle's axis to the jaw's centre", "length")


class Blank(Section):
    """What goes in. Spans are [smallest, largest]."""

    shape: Shape | None = field("form of the blank")
    diameter: Span | None = field("smallest and largest diameter", "length")
    bore: Number | None = field("diameter of the hole in a tube", "length")
    across_flats: Span | None = field("smallest and largest size of a hexagon", "length")
    width: Span | None = field("smallest and largest width of a block", "length")
    length: Span | None = field("smallest and largest length of a block", "length")
    height: Number | None = field("standing height as the jaws take it", "length")
    held: Span | None = field("size where the fingers hold, if not the outside", "length")
    material: Text | None = field("material, by its usual designation")
    density: Number | None = field("density, if the table is not to be used", "g/cm3")
    mass: Number | None = field("mass as weighed", "kg")

    @model_validator(mode="after")
    def _smallest_first(self) -> Blank:
        for name in ("diameter", "across_flats", "width", "length", "held"):
            span = getattr(self, name)
            if span is not None and span[0] > span[1]:
                raise ValueError(f"{name}: the smallest comes first")
        return self


class Part(Section):
    """What comes out."""

    shape: Shape | None = field("form of the part")
    diameter: Number | None = field("largest diameter", "length")
    bore: Number | None = field("diameter of the hole", "length")
    width: Number | None = field("width", "length")
    length: Number | None = field("length", "length")
    height: Number | None = field("standing height", "length")
    held: Number | None = field("size where the fingers hold", "length")
    shift_x: Number | None = field(
        "from the middle of the blank where held to that of the part, in the jaws", "length"
    )
    shift_y: Number | None = field(
        "from the middle of the blank where held to that of the part, in the jaws", "length"
    )
    mass: Number | None = field("mass as weighed", "kg")


class Fingers(Section):
    """What one gripper holds with."""

    id: Text | None = field("mark engraved on the fingers")
    place: Text | None = field("where they are kept")
    form: Literal["flat", "V"] | None = field("flat or V faces")
    half_angle: Number | None = field("half the angle of the V", "deg")
    hold: Hold | None = field("whether they hold outside or inside")
    opening: Number | None = field("distance between the faces when open", "length")
    closed_limit: Number | None = field("distance at which the gripper ends its stroke", "length")
    bite: Number | None = field("depth of material held", "length")
    tip: Number | None = field(
        "height of the tip over the gripper's face, up positive: -62 hangs 62 below it", "length"
    )
    width: Number | None = field("width of a finger across the faces", "length")
    thickness: Number | None = field("thickness of a finger, along the closing", "length")
    mass: Number | None = field("mass of the set of fingers", "kg")
    force: Number | None = field("force of one finger at the lowest guarded pressure", "N")
    force_without_air: Number | None = field("force of one finger when the air is lost", "N")
    crush_limit: Number | None = field("force of one finger that the material bears", "N")
    friction: Number | None = field("coefficient of friction as it runs: wet", "1")
    settle: Number | None = field("rest after the fingers have moved", "s")


class Photo(Section):
    """A reference photo."""

    file: Text = needed("path of the picture in the book")
    sha256: Sha256 | None = field("hash of the picture that was inked")
    shows: Text | None = field("section it shows: jaws, fingers.blank, tray, …")
    note: Text | None = field("what to look at")


class Tray(Section):
    """The flat plate whose pockets hold blanks and parts."""

    plate: Text | None = field("mark on the plate")
    place: Text | None = field("where it is kept")
    pitch_across: Number | None = field("distance from pocket to pocket along a row", "length")
    pitch_along: Number | None = field("distance from row to row", "length")
    across: int | None = field("number of pockets in a row")
    along: int | None = field("number of rows")
    first_across: Number | None = field("from the plate's edge to the first pocket", "length")
    first_along: Number | None = field("from the plate's edge to the first row", "length")
    pocket_shape: Literal["round", "rectangle"] | None = field("form of a pocket")
    pocket_size: Number | None = field("diameter of a pocket, or its size across", "length")
    pocket_length: Number | None = field("size of a rectangular pocket along", "length")
    pocket_depth: Number | None = field("depth of a pocket", "length")
    plate_across: Number | None = field("size of the plate across", "length")
    plate_along: Number | None = field("size of the plate along", "length")
    thickness: Number | None = field("thickness of the plate", "length")
    unused: list[PocketName] | None = field("pockets that are not loaded, as r4c9")
    taught: dict[PocketName, dict[Key, Number]] = table(
        "pockets taught to prove the grid, by axis, with the gripper that takes from it", "axis"
    )


class Approach(Section):
    """The last stretch before a station."""

    length: Number | None = field("length of the last stretch", "length")
    speed: Number | None = field("speed on the last stretch", "mm/s")
    stand_off: Number | None = field("height above rest at which the fingers move", "length")


class BlowOff(Section):
    """Air on the jaws."""

    seconds: Number | None = field("how long the air blows on the jaws", "s")
    pressure: Number | None = field("pressure of that air", "bar")


class Lot(Section):
    """The quantity ordered and how it is run."""

    quantity: int | None = field("quantity ordered")
    machining_seconds: Number | None = field("from door closed to door open", "s")
    stages: list[Number] | None = field("prove-out stages, rising, in percent of full speed", "%")
    samples: int | None = field("parts taken out for measuring")
    scrap_allowed: int | None = field("parts that may be lost")


class Notes(Section):
    """Words for the next person."""

    text: LongText | None = field("free text")


class Record(Section):
    """The set-up of one operation of one job on one cell."""

    format: Literal[1] = needed("version of this file's format")
    record: Header = needed("what this record is for")
    program: Program = table("the part program")
    offsets: dict[Key, dict[Key, Number]] = table("work offsets, by name and axis", "length")
    tools: dict[Key, Tool] = table("tools, by number")
    jaws: Jaws = table("what clamps in the machine")
    blank: Blank = table("what goes in")
    part: Part = table("what comes out")
    fingers: dict[Key, Fingers] = table("fingers, by what they carry: blank, part")
    photos: dict[Key, Photo] = table("reference photos, by name")
    tray: Tray = table("the tray plate")
    positions: dict[Key, dict[Key, Number]] = table("taught positions, by station and axis", "axis")
    approach: dict[Key, Approach] = table("approaches, by station")
    blow_off: BlowOff = table("air on the jaws")
    lot: Lot = table("the lot")
    notes: Notes = table("words for the next person")


COUPLED_SECTIONS = ("jaws", "blank", "part", "fingers", "tray", "positions", "approach")
_UNCOUPLED = frozenset(
    {"jaws.place", "tray.place", "blank.material", "blank.density", "blank.mass", "part.mass"}
)


def is_coupled(address: str) -> bool:
    """Whether a value belongs to the coupled group: heights, bites, jaws, fingers, tray,
    positions. They stand or fall together, so two people's edits of them are one conflict.
    """
    if address in _UNCOUPLED or address.endswith((".friction", ".settle", ".place")):
        return False
    if address.startswith("approach."):
        return address.endswith(".stand_off")
    return address.split(".", 1)[0] in COUPLED_SECTIONS


def is_link(address: str) -> bool:
    """Whether a value is the path of a linked file: the program or a photo."""
    keys = address.split(".")
    return address == "program.file" or (
        len(keys) == 3 and keys[0] == "photos" and keys[2] == "file"
    )
