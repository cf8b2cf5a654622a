"""The story of the demo: what three people did in eight weeks, as data.

A line is (working day 0 to 39, time, person, act, what it is about, details).
All of it is invented. `EARLIER` says how values stood before the story began;
the story brings them to what the demo book holds.
"""

from __future__ import annotations

from typing import Any

StoryLine = tuple[int, str, str, str, str, dict[str, Any]]

EARLIER_NAMES = {"sensor-housing-op10": "ti-cup-op10"}
NOT_YET = ("seal-carrier-op20",)  # copied from another record in the second week

EARLIER: dict[str, dict[str, str]] = {
    "seal-carrier-op10": {
        "blow_off.seconds": "1.3",
        "tools.T02.stick_out": "",
        "lot.quantity": "84",
    },
    "ti-cup-op10": {"record.part": "Cup, titanium", "program.spindle_top": "1000"},
    "guide-bush-op10": {"jaws.clamp_pressure": "11", "lot.quantity": "96"},
    "wear-ring-op20": {"positions.collect.lift": "-1.270", "fingers.part.settle": "0.4"},
    "bearing-foot-op10": {"positions.pick.hoist": "-0.340", "positions.stow.hoist": "-0.310"},
    "lever-yoke-op10": {"positions.set-in.run": "+0.210", "positions.lift-out.run": "+0.190"},
    "sensor-housing-op30": {"positions.set-in.cross": "-0.160", "blow_off.seconds": "1.7"},
    "gland-nut-op10": {"lot.machining_seconds": "118", "lot.quantity": "430"},
    "union-body-op20": {"fingers.part.friction": "0.18"},
    "valve-stem-op10": {"approach.collect.speed": "60"},
}

# Values of the copy as they were first taught; they crept over three runs.
CREPT = "positions.seat.lift"
FIRST_TAUGHT = {"approach.seat.speed": "45", "positions.return.lift": "158.440"}
CREEP = ("303.020", "303.160", "303.300", "303.440")
_SEAT = "seal-carrier-op20"


def _run(day: int, who: str, record: str, good: int, scrap: int, **more: Any) -> list[StoryLine]:
    """One lot in one day, from start to stop."""
    lines: list[StoryLine] = [
        (day, "06:31", who, "start", record, {"quantity": more.get("quantity")}),
        (day, "06:44", who, "confirm", record, {}),
    ]
    for number, time in enumerate(more.get("stages", [])):
        lines.append((day, time, who, "stage", record, {"number": number}))
    lines.append((day, "07:36", who, "piece", record, {"piece": "first"}))
    if more.get("refill"):
        lines.append((day, "10:20", who, "refill", record, {"good": more["refill"], "scrap": 0}))
    lines.append(
        (
            day,
            "13:42",
            who,
            "stop",
            record,
            {"good": good, "scrap": scrap, "note": more.get("note", "")},
        )
    )
    return lines


def _set(
    day: int, time: str, who: str, record: str, values: dict[str, str], reason: str
) -> list[StoryLine]:
    return [(day, time, who, "set", record, {"values": values, "reason": reason})]


# When each stage of the record was reached; `_FULL[:2]` stops after the second one.
_FULL = ["06:52", "07:03", "07:15", "07:25"]


_FIRST_HALF: list[StoryLine] = [
    *_run(0, "mirela", "gland-nut-op10", 421, 4, stages=_FULL[:2], refill=91),
    *_run(1, "mirela", "seal-carrier-op10", 84, 0, stages=_FULL),
    *_set(
        1,
        "09:15",
        "mirela",
        "seal-carrier-op10",
        {"blow_off.seconds": "present"},
        "chips under the first blank; one more half second of air",
    ),
    *_run(2, "jun", "bearing-foot-op10", 226, 2, stages=_FULL, refill=66),
    *_set(
        3,
        "11:05",
        "ifeoma",
        "guide-bush-op10",
        {"jaws.clamp_pressure": "present"},
        "bores came out three-cornered at 11 bar",
    ),
    *_run(4, "mirela", "guide-bush-op10", 92, 3, stages=_FULL),
    (5, "08:20", "ifeoma", "copy", "seal-carrier-op10", {"name": _SEAT}),
    *_set(
        5,
        "09:10",
        "ifeoma",
        _SEAT,
        {"everything": CREEP[0]},
        "second side: bored jaws C-14, its own program and offset",
    ),
    *_run(6, "mirela", _SEAT, 108, 2, stages=_FULL, note="first lot of the second side"),
    *_set(
        7,
        "07:50",
        "jun",
        "valve-stem-op10",
        {"approach.collect.speed": "present"},
        "collet rang when the fingers came in that fast",
    ),
    *_run(8, "jun", "valve-stem-op10", 372, 5, refill=125),
    (10, "10:15", "ifeoma", "rename", "ti-cup-op10", {"name": "sensor-housing-op10"}),
    *_set(
        10,
        "10:25",
        "ifeoma",
        "sensor-housing-op10",
        {"record.part": "present"},
        "the drawing has its name now",
    ),
    *_set(
        11,
        "06:58",
        "mirela",
        _SEAT,
        {CREPT: CREEP[1]},
        "blank stood proud of the stop by a hair",
    ),
    *_run(11, "mirela", _SEAT, 109, 1, stages=_FULL[:3]),
    *_run(12, "jun", "lever-yoke-op10", 135, 1, stages=_FULL),
    *_set(
        13,
        "12:40",
        "mirela",
        "wear-ring-op20",
        {"fingers.part.settle": "present", "positions.collect.lift": "present"},
        "new pads on VF-22, taught the collect again",
    ),
    *_run(14, "mirela", "wear-ring-op20", 82, 2, stages=_FULL),
    *_set(
        15,
        "09:30",
        "ifeoma",
        "people",
        {"people.jun.roles": "auditor"},
        "Jun is in quality from today and reads only",
    ),
    (
        16,
        "15:05",
        "ifeoma",
        "program",
        "sensor-housing-op10",
        {
            "old": "S1000",
            "new": "S900",
            "values": {"program.spindle_top": "present"},
            "reason": "chatter at the thin wall; clamp of the spindle down, proved out again",
        },
    ),
    *_run(17, "mirela", "sensor-housing-op10", 62, 1, stages=_FULL),
]


_VICE_OFF = "vice was off and on again; taught at the gauge"
_SECOND_HALF: list[StoryLine] = [
    *_run(19, "mirela", "gland-nut-op10", 424, 5, refill=91),
    *_set(
        20,
        "10:50",
        "mirela",
        "gland-nut-op10",
        {"lot.machining_seconds": "present", "lot.quantity": "present"},
        "timed over fifty parts",
    ),
    *_set(
        21,
        "06:55",
        "mirela",
        _SEAT,
        {CREPT: CREEP[2]},
        "chips under the seat again? taught a touch higher",
    ),
    *_run(21, "mirela", _SEAT, 110, 0),
    *_set(
        22,
        "11:20",
        "ifeoma",
        "cells/west-mill",
        {"times.door": "present"},
        "door timed after its new seals",
    ),
    (
        26,
        "07:10",
        "ifeoma",
        "event",
        "west-mill",
        {
            "kind": "vice off",
            "reason": "vice out for the fourth-axis job, back on the keys",
        },
    ),
    *_set(
        26,
        "08:05",
        "ifeoma",
        "bearing-foot-op10",
        {"positions.pick.hoist": "present", "positions.stow.hoist": "present"},
        _VICE_OFF,
    ),
    *_set(
        26,
        "09:40",
        "ifeoma",
        "lever-yoke-op10",
        {"positions.set-in.run": "present", "positions.lift-out.run": "present"},
        _VICE_OFF,
    ),
    *_set(
        26,
        "11:15",
        "ifeoma",
        "sensor-housing-op30",
        {"positions.set-in.cross": "present", "blow_off.seconds": "present"},
        _VICE_OFF,
    ),
    *_run(27, "mirela", "bearing-foot-op10", 228, 1, stages=_FULL, refill=66),
    *_run(28, "mirela", "sensor-housing-op30", 59, 2, stages=_FULL),
    *_set(
        29,
        "12:10",
        "mirela",
        "union-body-op20",
        {"fingers.part.friction": "present"},
        "measured wet with the spring balance",
    ),
    *_run(30, "mirela", "union-body-op20", 466, 4, refill=105),
    *_set(
        31,
        "06:57",
        "mirela",
        _SEAT,
        {CREPT: CREEP[3]},
        "touches the stop late; taught higher once more",
    ),
    *_run(31, "mirela", _SEAT, 107, 3, note="three with a mark on the face"),
    (
        33,
        "13:30",
        "ifeoma",
        "program",
        "union-body-op20",
        {
            "old": "F18",
            "new": "F14",
            "values": {},
            "reason": "drill squealed; slower feed, still to be proved out",
        },
    ),
    *_run(34, "mirela", "seal-carrier-op10", 82, 1, stages=_FULL[:2]),
    *_set(
        35,
        "14:05",
        "mirela",
        "seal-carrier-op10",
        {"lot.quantity": "present"},
        "orders are 110 from now on",
    ),
    *_set(
        36,
        "10:12",
        "mirela",
        _SEAT,
        {"approach.seat.speed": "present"},
        "blank rocked when it came in; slower",
    ),
    *_set(
        36,
        "15:40",
        "mirela",
        _SEAT,
        {"positions.return.lift": "present"},
        "part scraped the pocket's edge on the way back",
    ),
    *_run(38, "mirela", "valve-stem-op10", 376, 3, refill=125),
]


_LOOKED_AT = "looked at with the first piece in hand"
_SIGN_OFFS: list[StoryLine] = [
    (2, "15:10", "ifeoma", "sign-off", "gland-nut-op10", {"note": _LOOKED_AT}),
    (6, "15:20", "ifeoma", "sign-off", _SEAT, {"note": _LOOKED_AT}),
    (9, "09:00", "ifeoma", "sign-off", "valve-stem-op10", {"note": _LOOKED_AT}),
    (18, "09:25", "ifeoma", "sign-off", "sensor-housing-op10", {"note": _LOOKED_AT}),
    (28, "15:30", "ifeoma", "sign-off", "bearing-foot-op10", {"note": _LOOKED_AT}),
    (35, "15:45", "ifeoma", "sign-off", "seal-carrier-op10", {"note": _LOOKED_AT}),
]


def lines() -> list[StoryLine]:
    """The whole story in order of time."""
    return sorted([*_FIRST_HALF, *_SECOND_HALF, *_SIGN_OFFS], key=lambda line: line[:2])


LEFT_IN_PENCIL: list[tuple[float, str, str, dict[str, str]]] = [
    # hours before now, person, record, values
    (98.0, "mirela", "union-body-op20", {"positions.lift-out.hoist": "416.900"}),
    (2.5, "ifeoma", "seal-carrier-op10", {"blow_off.pressure": "5.0"}),
]
TOUR = (_SEAT, CREPT)
