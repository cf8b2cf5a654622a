"""Masses are kg: weighed where someone weighed, else worked out from the largest size.

A mass on the scales goes before one that is worked out. The payload is what
hangs on the loader at the worst moment of the round, grippers and fingers
included; nothing that may be there is left out.
"""

from __future__ import annotations

from functools import partial

from engine.figures.cell import carries
from engine.figures.geometry.sizes import WHATS, What, form, volumes
from engine.figures.inputs import Facts, Missing, both, gather, known
from engine.figures.kinds import Figure, FigureKind
from engine.figures.mechanics.payload import Load, PayloadMoment, moments
from engine.figures.tables import material
from engine.figures.verdicts import judge

KG_PER_MM3 = 1e-6  # for a density in g/cm3

_CALLISTER = (
    "mass = volume x density; densities: Callister, Materials Science and Engineering: An "
    "Introduction, 7th ed., App. B.1 (seen quoted, not in the original), and others named in "
    "data/materials.toml"
)
BLANK = FigureKind(
    "blank mass",
    "mass",
    "kg",
    "as weighed; else volume x density. Round: pi/4 x diameter² x height; tube: less its bore; "
    "hexagon: root(3)/2 x (across flats)² x height; block: width x length x height; "
    "the largest sizes count",
    _CALLISTER,
    section="blank",
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
    section="blank",
)
PAYLOAD = FigureKind(
    "payload",
    "mass",
    "kg",
    "grippers + fingers + all blanks and parts held at the worst moment of the round, "
    "found by walking its stations in order",
    "statics; common practice, no source",
    bound="most",
    section="blank",
)


def density(facts: Facts) -> float:
    """Density in g/cm3: as written in the record, else of the listed grade."""
    if facts.find("blank.density") is not None:
        return facts.number("blank.density")
    grade = material(facts.text("blank.material"))
    return known(grade, "blank.density").density


def worked_out(facts: Facts, what: What) -> tuple[float, float]:
    """Smallest and largest mass in kg by volume and density, about 1 % for the density alone."""
    (small, large), rho = both(lambda: volumes(facts, what), lambda: density(facts))
    return small * rho * KG_PER_MM3, large * rho * KG_PER_MM3


def mass_of(facts: Facts, what: What) -> float:
    """Mass in kg of the heaviest blank or part that may hang in the fingers."""
    if facts.find(f"{what}.mass") is not None:
        return facts.number(f"{what}.mass")
    if what == "part" and facts.find("part.shape") is None:
        raise Missing("part.mass")
    return worked_out(facts, what)[1]


def payload(facts: Facts, held: Load) -> float:
    """Mass in kg of all grippers and fingers with what they hold."""
    return sum(
        gather(
            lambda: _grippers(facts),
            lambda: _fingers(facts),
            *(partial(mass_of, facts, what) for _, what in held),
        )
    )


def _grippers(facts: Facts) -> float:
    names = facts.keys("cell:grippers")
    return sum(facts.numbers(*(f"cell:grippers.{name}.mass" for name in names)))


def _fingers(facts: Facts) -> float:
    what = [carries(facts, name) for name in facts.keys("cell:grippers")]
    return sum(gather(*(partial(_set, facts, each) for each in what)))


def _set(facts: Facts, what: str) -> float:
    """Fingers of one gripper. One that carries both may have two tables for its one set."""
    sets = facts.keys("fingers")
    if what != "both" or "both" in sets:
        return facts.number(f"fingers.{what}.mass")
    keys = [key for key in WHATS if key in sets] or ["blank"]
    masses = facts.numbers(*(f"fingers.{key}.mass" for key in keys))
    marks = {facts.find(f"fingers.{key}.id") for key in keys if key in sets}
    return max(masses) if len(marks) == 1 and None not in marks else sum(masses)


def figures(facts: Facts) -> list[Figure]:
    """Blank, part and payload in kg."""
    heaviest = partial(mass_of, facts, "blank")
    blank = judge(facts, BLANK, "largest blank", heaviest, note=_note(facts))
    limit = None if blank.value is None else heaviest
    part = judge(
        facts, PART, "part", partial(mass_of, facts, "part"), limit, note=_part_note(facts)
    )
    return [blank, part, _payload(facts)]


def _payload(facts: Facts) -> Figure:
    try:
        worst = _worst(facts)
    except Missing:
        return judge(facts, PAYLOAD, "", partial(payload_most, facts))
    holds = " and ".join(what for _, what in worst.held) or "nothing"
    note = f"leaving {worst.station} with {holds} in the fingers"
    address = "cell:cell.payload_most"
    limit = None if facts.find(address) is None else partial(facts.number, address)
    return judge(facts, PAYLOAD, worst.station, lambda: payload_most(facts), limit, note=note)


def payload_most(facts: Facts) -> float:
    """The payload in kg at the worst moment of the round."""
    return payload(facts, _worst(facts).held)


def _worst(facts: Facts) -> PayloadMoment:
    """The moment of the round at which blanks and parts weigh most."""
    return facts.once("mass.worst", lambda: max(moments(facts), key=partial(_weight, facts)))


def _weight(facts: Facts, moment: PayloadMoment) -> float:
    return sum(gather(*(partial(mass_of, facts, what) for _, what in moment.held)))


def _note(facts: Facts) -> str:
    """What volume and density say beside a mass on the scales."""
    if facts.find("blank.mass") is None:
        return "worked out from the largest size"
    try:
        small, large = worked_out(facts, "blank")
    except Missing:
        return "as weighed"
    return f"as weighed; worked out {small:.3f} to {large:.3f} kg"


def _part_note(facts: Facts) -> str:
    if facts.find("part.mass") is not None:
        return "as weighed"
    try:
        hole = facts.find("part.bore") is not None and form(facts, "part") != "tube"
    except Missing:
        return ""
    if hole:
        return "the hole is not taken off; write the shape tube if it goes through"
    return "worked out from the largest size"
