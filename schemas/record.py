"""A record is the set-up of one operation of one job on one cell.

Lengths are in the record's unit, axis values in the unit of the cell's axis,
everything else in the unit its field names. Absent means not known, never zero.
Every field says its class. Coupled values fit each other physically: heights, bites, jaws,
fingers, tray, positions. Recipe is what else makes the job what it is. Readings are measured
anew on each set-up, or say where a thing lies today. The order of the classes' fields is
the order on disk. Dates and authors of values belong to history and are not repeated here.
"""

from __future__ import annotations

from functools import partial
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from schemas.fields import (
    Key,
    LongText,
    Section,
    Sha256,
    Text,
    class_of,
    field,
    fields_of,
    needed,
    table,
)
from schemas.number import Number

RecordId = Annotated[str, StringConstraints(pattern=r"^wm-[0-9a-z]{6,12}$")]
PocketName = Annotated[str, StringConstraints(pattern=r"^r[1-9]\d{0,3}c[1-9]\d{0,3}$")]
Span = Annotated[list[Number], Field(min_length=2, max_length=2)]
Shape = Literal["round", "bar", "block", "hexagon", "tube"]
Hold = Literal["outside", "inside"]
COUPLED, RECIPE, READING = "coupled", "recipe", "reading"
coupled, recipe, reading = (partial(field, class_=of) for of in (COUPLED, RECIPE, READING))


class Header(Section):
    """What this record is for."""

    id: RecordId = needed("identity of the record; a rename keeps it, a copy replaces it")
    part: Text = needed("what the part is called")
    drawing: Text | None = recipe("drawing number")
    revision: Text | None = recipe("revision of the drawing")
    operation: int | None = recipe("number of the operation")
    cell: Text = needed("the cell it runs on: the name of a file in cells/")
    units: Literal["mm", "in"] = needed("unit of every length in this record, axes apart")
    copied_from: Text | None = recipe("record and commit that this one was copied from")
    retired: bool | None = recipe("out of the list; its history stays")


class Program(Section):
    """The part program, and which text of it was proved out."""

    file: Text | None = recipe("path of the part program in the book")
    sha256: Sha256 | None = recipe("hash of the program that was proved out")
    spindle_top: Number | None = recipe("highest spindle speed in it", "1/min")
    ending: Literal["tended", "attended"] | None = recipe(
        "how it must end: tended = the loader goes on, attended = it waits for a person"
    )


class Tool(Section):
    """One tool in the turret or magazine."""

    what: Text | None = recipe("what it is")
    diameter: Number | None = recipe("cutting diameter", "length")
    stick_out: Number | None = recipe("from the holder's face to the tip", "length")
    length: Number | None = reading("gauge length", "length")


class Jaws(Section):
    """What clamps in the machine: vice jaws, chuck jaws or a collet."""

    id: Text | None = coupled("mark engraved on the jaws")
    kind: Literal["vice", "chuck", "collet"] | None = coupled("what they belong to")
    kept_at: Text | None = reading("where they are kept")
    inside_or_outside: Hold | None = coupled("whether they clamp outside or inside")
    count: int | None = coupled("number of jaws that close")
    bite: Number | None = coupled("depth of material held", "length")
    stroke: Number | None = coupled("travel of one jaw from open to closed", "length")
    gap: Number | None = coupled("room between an open jaw and the blank", "length")
    pushes: Literal["x", "-x", "y", "-y"] | None = coupled(
        "direction in which closing moves the blank: towards the fixed jaw, as the tray lies"
    )
    release: Literal["jaws_close_then_fingers_open", "fingers_open_then_jaws_close"] | None = (
        coupled("which lets go first when the blank is handed over")
    )
    clamp_pressure: Number | None = coupled("set clamping pressure", "bar")
    force_per_bar: Number | None = coupled("clamping force of one jaw for each bar", "N/bar")
    force_least: Number | None = coupled("clamping force of one jaw that the cut needs", "N")
    force_most: Number | None = coupled("clamping force of one jaw that the part bears", "N")
    jaw_mass: Number | None = coupled("mass of one jaw with its base", "kg")
    jaw_radius: Number | None = coupled("from the spindle's axis to the jaw's centre", "length")


class Blank(Section):
    """What goes in. Spans are [smallest, largest]."""

    shape: Shape | None = coupled("form of the blank")
    diameter: Span | None = coupled("smallest and largest diameter", "length")
    bore: Number | None = coupled("diameter of the hole in a tube", "length")
    across_flats: Span | None = coupled("smallest and largest size of a hexagon", "length")
    width: Span | None = coupled("smallest and largest width of a block", "length")
    length: Span | None = coupled("smallest and largest length of a block", "length")
    height: Number | None = coupled("standing height as the jaws take it", "length")
    held: Span | None = coupled("size where the fingers hold, if not the outside", "length")
    material: Text | None = recipe("material, by its usual designation")
    density: Number | None = recipe("density, if the table is not to be used", "g/cm3")
    mass: Number | None = recipe("mass as weighed", "kg")

    @model_validator(mode="after")
    def _smallest_first(self) -> Blank:
        for name in ("diameter", "across_flats", "width", "length", "held"):
            span = getattr(self, name)
            if span is not None and span[0] > span[1]:
                raise ValueError(f"{name}: the smallest comes first")
        return self


class Part(Section):
    """What comes out."""

    shape: Shape | None = coupled("form of the part")
    diameter: Number | None = coupled("largest diameter", "length")
    bore: Number | None = coupled("diameter of the hole", "length")
    width: Number | None = coupled("width", "length")
    length: Number | None = coupled("length", "length")
    height: Number | None = coupled("standing height", "length")
    held: Number | None = coupled("size where the fingers hold", "length")
    shift_x: Number | None = coupled(
        "from the middle of the blank where held to that of the part, in the jaws", "length"
    )
    shift_y: Number | None = coupled(
        "from the middle of the blank where held to that of the part, in the jaws", "length"
    )
    mass: Number | None = recipe("mass as weighed", "kg")


class Fingers(Section):
    """What one gripper holds with."""

    id: Text | None = coupled("mark engraved on the fingers")
    kept_at: Text | None = reading("where they are kept")
    form: Literal["flat", "V"] | None = coupled("flat or V faces")
    half_angle: Number | None = coupled("half the angle of the V", "deg")
    hold: Hold | None = coupled("whether they hold outside or inside")
    opening: Number | None = coupled("distance between the faces when open", "length")
    closed_limit: Number | None = coupled("distance at which the gripper ends its stroke", "length")
    bite: Number | None = coupled("depth of material held", "length")
    tip: Number | None = coupled(
        "height of the tip over the gripper's face, up positive: -62 hangs 62 below it", "length"
    )
    width: Number | None = coupled("width of a finger across the faces", "length")
    thickness: Number | None = coupled("thickness of a finger, along the closing", "length")
    mass: Number | None = coupled("mass of the set of fingers", "kg")
    force: Number | None = coupled("force of one finger at the lowest guarded pressure", "N")
    force_without_air: Number | None = coupled("force of one finger when the air is lost", "N")
    crush_limit: Number | None = coupled("force of one finger that the material bears", "N")
    friction: Number | None = recipe("coefficient of friction as it runs: wet", "1")
    settle: Number | None = recipe("rest after the fingers have moved", "s")


class Photo(Section):
    """A reference photo."""

    file: Text = needed("path of the picture in the book")
    sha256: Sha256 | None = recipe("hash of the picture that was inked")
    shows: Text | None = recipe("section it shows: jaws, fingers.blank, tray, …")
    note: Text | None = recipe("what to look at")


class Tray(Section):
    """The flat plate whose pockets hold blanks and parts."""

    plate: Text | None = coupled("mark on the plate")
    kept_at: Text | None = reading("where it is kept")
    pitch_across: Number | None = coupled("distance from pocket to pocket along a row", "length")
    pitch_along: Number | None = coupled("distance from row to row", "length")
    across: int | None = coupled("number of pockets in a row")
    along: int | None = coupled("number of rows")
    first_across: Number | None = coupled("from the plate's edge to the first pocket", "length")
    first_along: Number | None = coupled("from the plate's edge to the first row", "length")
    pocket_shape: Literal["round", "rectangle"] | None = coupled("form of a pocket")
    pocket_size: Number | None = coupled("diameter of a pocket, or its size across", "length")
    pocket_length: Number | None = coupled("size of a rectangular pocket along", "length")
    pocket_depth: Number | None = coupled("depth of a pocket", "length")
    plate_across: Number | None = coupled("size of the plate across", "length")
    plate_along: Number | None = coupled("size of the plate along", "length")
    thickness: Number | None = coupled("thickness of the plate", "length")
    unused: list[PocketName] | None = coupled("pockets that are not loaded, as r4c9")
    taught: dict[PocketName, dict[Key, Number]] = table(
        "pockets taught to prove the grid, by axis, with the gripper that takes from it",
        "axis",
        COUPLED,
    )


class Approach(Section):
    """The last stretch before a station."""

    length: Number | None = recipe("length of the last stretch", "length")
    speed: Number | None = recipe("speed on the last stretch", "mm/s")
    stand_off: Number | None = coupled("height above rest at which the fingers move", "length")


class BlowOff(Section):
    """Air on the jaws."""

    seconds: Number | None = recipe("how long the air blows on the jaws", "s")
    pressure: Number | None = recipe("pressure of that air", "bar")


class Lot(Section):
    """The quantity ordered and how it is run."""

    quantity: int | None = recipe("quantity ordered")
    machining_seconds: Number | None = recipe("from door closed to door open", "s")
    stages: list[Number] | None = recipe("prove-out stages, rising, in percent of full speed", "%")
    samples: int | None = recipe("parts taken out for measuring")
    scrap_allowed: int | None = recipe("parts that may be lost")


class Notes(Section):
    """Words for the next person."""

    text: LongText | None = recipe("free text")


class Record(Section):
    """The set-up of one operation of one job on one cell."""

    format: Literal[2] = needed("version of this file's format")
    record: Header = needed("what this record is for")
    program: Program = table("the part program")
    offsets: dict[Key, dict[Key, Number]] = table(
        "work offsets, by name and axis", "length", READING
    )
    tools: dict[Key, Tool] = table("tools, by number")
    jaws: Jaws = table("what clamps in the machine")
    blank: Blank = table("what goes in")
    part: Part = table("what comes out")
    fingers: dict[Key, Fingers] = table("fingers, by what they carry: blank, part")
    photos: dict[Key, Photo] = table("reference photos, by name")
    tray: Tray = table("the tray plate")
    positions: dict[Key, dict[Key, Number]] = table(
        "taught positions, by station and axis", "axis", COUPLED
    )
    approach: dict[Key, Approach] = table("approaches, by station")
    blow_off: BlowOff = table("air on the jaws")
    lot: Lot = table("the lot")
    notes: Notes = table("words for the next person")


def is_coupled(address: str) -> bool:
    """Whether a value belongs to the coupled group: heights, bites, jaws, fingers, tray,
    positions. They stand or fall together, so two people's edits of them are one conflict.
    What no field describes (a slip in a text by hand) goes with its section.
    """
    said = class_of(Record, address)
    return said == COUPLED or (not said and address.split(".", 1)[0] in _COUPLED_SECTIONS)


def is_reading(address: str) -> bool:
    """Whether a value is measured anew on each set-up, or says where a thing lies today."""
    return class_of(Record, address) == READING


def is_link(address: str) -> bool:
    """Whether a value is the path of a linked file: the program or a photo."""
    keys = address.split(".")
    return address == "program.file" or (
        len(keys) == 3 and keys[0] == "photos" and keys[2] == "file"
    )


def _classes() -> dict[str, str]:
    """The class of each describable address; TypeError names a field that says none."""
    addresses = [described.address for described in fields_of(Record)]
    found = {a: class_of(Record, a.replace("*", "x")) for a in addresses if a != "format"}
    for address, said in found.items():
        if said not in (COUPLED, RECIPE, READING):
            raise TypeError(f"{address}: say whether it is coupled, recipe or reading")
    return found


CLASSES = _classes()
_COUPLED_SECTIONS = {a.partition(".")[0] for a, class_ in CLASSES.items() if class_ == COUPLED}
