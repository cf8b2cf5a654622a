"""Masses are kg: weighed where someone weighed, else worked out from the largest size.

A mass on the scales goes before one that is worked out. The payload is what
hangs on the loader at the worst moment of the round, grippers and fingers
included; nothing that may be there is left out.
"""

from __future__ import annotations

from engine.figures.geometry.sizes import WHATS, What, form, volumes
from engine.figures.mechanics.payload import Load, moments
from engine.figures.model import Facts, Figure, FigureKind, Missing, gather, judge, known, lacking
from engine.figures.tables import material

KG_PER_MM3 = 1e-6  # for a density in g/cm3

_CALLISTER = (
    "mass = volume x density; densities: Callister, Materials Science and Engineering, 7th ed., "
    "App. B.1 (second), and others named in data/materials.toml"
)
BLANK = FigureKind(
    "blank mass",
    "mass",
    "kg",
    "as weighed; else volume x density. Round: pi/4 x diameter² x height; tube: less its bore; "
    "hexagon: root(3)/2 x (across flats)² x height; block: width x length x height; "
    "the largest sizes count",
    _CALLISTER,
)
PART = FigureKind(
    "part mass",
    "mass",
    "kg",
    "as weighed; else volume x density of the blank's material, from the part's largest sizes, "
    "where only the hole of a tube is taken off; a part weighs no more than its blank",
    _CALLISTER,
    bound="most",
    tight_share=0.0,
)
PAYLOAD = FigureKind(
    "payload",
    "mass",
    "kg",
    "grippers + fingers + all blanks and parts held at the worst moment of the round, "
    "found by walking its stations in order",
    "statics; common practice, no source",
    bound="most",
)


def density(facts: Facts) -> float:
    """Density in g/cm3: as written in the record, else of the listed grade."""
    blank = facts.record.blank
    if blank.density is not None:
        return float(blank.density)
    grade = material(known(blank.material, "blank.material"))
    return known(grade, "blank.density").density


def worked_out(facts: Facts, what: What) -> tuple[float, float]:
    """Smallest and largest mass in kg by volume and density, about 1 % for the density alone."""
    (small, large), (rho, _) = gather(
        lambda: volumes(facts, what), lambda: (density(facts), density(facts))
    )
    return small * rho * KG_PER_MM3, large * rho * KG_PER_MM3


def mass_of(facts: Facts, what: What) -> float:
    """Mass in kg of the heaviest blank or part that may hang in the fingers."""
    section = facts.record.blank if what == "blank" else facts.record.part
    if section.mass is not None:
        return float(section.mass)
    if section.shape is None and what == "part":
        raise Missing("part.mass")
    return worked_out(facts, what)[1]


def payload(facts: Facts, held: Load) -> float:
    """Mass in kg of all grippers and fingers with what they hold."""
    return sum(
        gather(
            lambda: _grippers(facts),
            lambda: _fingers(facts),
            *(lambda what=what: mass_of(facts, what) for _, what in held),
        )
    )


def _grippers(facts: Facts) -> float:
    names = facts.cell.grippers if facts.cell else {}
    return sum(facts.of_cell(*(f"grippers.{name}.mass" for name in names)))


def _fingers(facts: Facts) -> float:
    sets = facts.cell.grippers if facts.cell else {}
    return sum(gather(*(lambda g=g: _set(facts, g.carries) for g in sets.values())))


def _set(facts: Facts, carries: str) -> float:
    """Fingers of one gripper. One that carries both may have two tables for its one set."""
    sets = facts.record.fingers
    if carries != "both" or "both" in sets:
        return facts.number(f"fingers.{carries}.mass")[0]
    keys = [key for key in WHATS if key in sets] or ["blank"]
    masses = facts.number(*(f"fingers.{key}.mass" for key in keys))
    marks = {sets[key].id for key in keys if key in sets}
    return max(masses) if len(marks) == 1 and None not in marks else sum(masses)


def figures(facts: Facts) -> list[Figure]:
    """Blank, part and payload in kg."""
    blank = judge(BLANK, "largest blank", lambda: mass_of(facts, "blank"), note=_note(facts))
    heaviest = blank.value
    limit = None if heaviest is None else (lambda: heaviest)
    part = judge(PART, "part", lambda: mass_of(facts, "part"), limit, _part_note(facts))
    return [blank, part, _payload(facts)]


def _payload(facts: Facts) -> Figure:
    try:
        walked = moments(facts)
        worst = max(walked, key=lambda moment: _weight(facts, moment.held))
    except Missing as error:
        return judge(PAYLOAD, "", lacking(error))
    holds = " and ".join(what for _, what in worst.held) or "nothing"
    note = f"leaving {worst.station} with {holds} in the fingers"
    most = facts.cell.cell.payload_most if facts.cell else None
    limit = None if most is None else (lambda: float(most))
    return judge(PAYLOAD, worst.station, lambda: payload(facts, worst.held), limit, note)


def _weight(facts: Facts, held: Load) -> float:
    return sum(gather(*(lambda what=what: mass_of(facts, what) for _, what in held)))


def _note(facts: Facts) -> str:
    """What volume and density say beside a mass on the scales."""
    if facts.record.blank.mass is None:
        return "worked out from the largest size"
    try:
        small, large = worked_out(facts, "blank")
    except Missing:
        return "as weighed"
    return f"as weighed; worked out {small:.3f} to {large:.3f} kg"


def _part_note(facts: Facts) -> str:
    if facts.record.part.mass is not None:
        return "as weighed"
    try:
        hole = facts.record.part.bore is not None and form(facts, "part") != "tube"
    except Missing:
        return ""
    if hole:
        return "the hole is not taken off; write the shape tube if it goes through"
    return "worked out from the largest size"
