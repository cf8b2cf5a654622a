"""Two people's values become one document's: by address, with what the values mean.

Of every address the result holds what one of the two sides says, never a third
value: so each value still belongs to the commit that made it, and the merge to
nobody. The coupled group of a record (heights, bites, jaws, fingers, tray,
positions) is taken whole from one side, and so is a link with its hash. Where both
changed the same thing, the shared side stays and the other one is named in
`contested`, for a person to decide.

`bases` are the texts from which both sides came; more than one where merges crossed. A
side changed a value if no base holds it, or if somebody decided it on that side since: what
was changed and put back takes part like any change. Where one side took out what the other
changed, the change stands.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field

from schemas.address import Value, same_text, same_value
from schemas.record import is_coupled

Values = Mapping[str, Value]
FITS = "fits"  # the group of everything that belongs together physically
OWN_ENTRY = 3  # keys of an address that lies in an entry of a keyed table: photos.jaws.shows


@dataclass
class Joined:
    """The merged values; all else are addresses.

    `contested`: both changed it, the shared value stands in `values`.
    `yielded`: those among them where ours stands, since the shared side took out what this
    side changed.
    `kept`: one side took out the entry that the other changed; the change stands.
    `told`: both changed it, and no pencil can take the value that does not stand.
    """

    values: dict[str, Value]
    contested: list[str] = field(default_factory=list)
    yielded: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Sides:
    """Both sides of one document, where they came from, and what was decided on each since."""

    bases: Sequence[Values]
    ours: Values
    shared: Values
    decided_here: Set[str] = frozenset()
    decided_there: Set[str] = frozenset()

    def mine(self, address: str) -> bool:
        """Whether this box's side changed a value."""
        own = self.ours.get(address)
        return address in self.decided_here or changed(self.bases, own, address)

    def theirs(self, address: str) -> bool:
        """Whether the shared side changed a value."""
        own = self.shared.get(address)
        return address in self.decided_there or changed(self.bases, own, address)

    def agree(self, address: str) -> bool:
        """Whether both say the same."""
        return same_value(self.ours.get(address), self.shared.get(address))


def join(
    bases: Sequence[Values],
    ours: Values,
    shared: Values,
    group_of: Callable[[str], str] = lambda _: "",
    decided: tuple[Set[str], Set[str]] = (frozenset(), frozenset()),
) -> Joined:
    """Merge two sides; `group_of` names the group that an address stands or falls with.

    `decided` are addresses that somebody changed since the bases, here and on the shared
    side, whatever their values are now.
    """
    result, sides = Joined({}), Sides(bases, ours, shared, *decided)
    for bundle in _bundles([*shared, *ours, *sorted(decided[0] | decided[1])], group_of):
        one_fit = group_of(bundle[0]) == FITS
        left = None if one_fit else _left_of_entry(sides, bundle)
        if left is not None:
            result.kept += [address for address in bundle if address in left]
            _take(result, bundle, left)
            continue
        for group in _by(bundle, lambda address: group_of(address) or address):
            _decide(result, sides, group)
    return result


def _bundles(addresses: Iterable[str], group_of: Callable[[str], str]) -> list[list[str]]:
    """Addresses that are looked at together: a group, or one entry of a keyed table."""

    def name(address: str) -> str:
        return group_of(address) or ".".join(address.split(".")[:2])

    return _by(dict.fromkeys(addresses), name)


def _by(addresses: Iterable[str], name: Callable[[str], str]) -> list[list[str]]:
    found: dict[str, list[str]] = {}
    for address in addresses:
        found.setdefault(name(address), []).append(address)
    return list(found.values())


def group_in_record(address: str) -> str:
    """What stands or falls together in a record: what fits, the program, a photo and its hash."""
    if is_coupled(address):
        return FITS
    keys = address.split(".")
    if keys[0] == "program":
        return "program"
    linked = len(keys) == OWN_ENTRY and keys[0] == "photos" and keys[2] in ("file", "sha256")
    return ".".join(keys[:2]) if linked else ""


def _take(result: Joined, addresses: Iterable[str], side: Values) -> None:
    result.values |= {address: side[address] for address in addresses if address in side}


def changed(bases: Sequence[Values], value: Value | None, address: str) -> bool:
    """Whether a value is none of the bases'."""
    known = bases or ({},)
    return not any(same_value(value, base.get(address)) for base in known)


def _decide(result: Joined, sides: Sides, group: Sequence[str]) -> None:
    """Take a whole group (or a single value) from the side that stands for it.

    A side whose changes the other side made as well, and more, gives way to it.
    """
    differ = [a for a in group if not sides.agree(a)]
    mine = [a for a in group if sides.mine(a) and not (sides.agree(a) and sides.theirs(a))]
    theirs = [a for a in group if sides.theirs(a) and not (sides.agree(a) and sides.mine(a))]
    if not differ:
        respelt = _only_respelt_here(sides.bases, sides.ours, sides.shared, group)
        _take(result, group, sides.ours if respelt else sides.shared)
    elif mine and not theirs:
        _take(result, group, sides.ours)
    elif theirs and not mine:
        _take(result, group, sides.shared)
    elif _only_they_took_out(sides, differ):
        _take(result, group, sides.ours)
        result.yielded += _of_those(theirs, differ)
        result.contested += _of_those(theirs, differ)
    else:  # both; or neither, of several bases, each side as one of them: nobody can tell
        _take(result, group, sides.shared)
        result.contested += _of_those(mine, differ)


def _of_those(decided: Sequence[str], differ: Sequence[str]) -> list[str]:
    """What a side loses: what it changed, or all that differs where it put its changes back."""
    return [a for a in decided if a in differ] or list(differ)


def _only_they_took_out(sides: Sides, differ: Sequence[str]) -> bool:
    """Whether the shared side took out what this side changed, and this side nothing of theirs."""

    def out(gone: Values, there: Values) -> bool:
        return any(
            a not in gone and a in there and sides.mine(a) and sides.theirs(a) for a in differ
        )

    return out(sides.shared, sides.ours) and not out(sides.ours, sides.shared)


def _only_respelt_here(
    bases: Sequence[Values], ours: Values, shared: Values, group: Sequence[str]
) -> bool:
    """Whether values that are equal are spelt as before on the shared side, and not here."""

    def as_before(side: Values) -> bool:
        return any(all(same_text(side.get(a), base.get(a)) for a in group) for base in bases)

    return as_before(shared) and not as_before(ours)


def _left_of_entry(sides: Sides, entry: Sequence[str]) -> Values | None:
    """The side that changed an entry which the other one took out whole, or None."""
    here, there = (any(a in side for a in entry) for side in (sides.ours, sides.shared))
    if here == there:
        return None
    name = ".".join(entry[0].split(".")[:2]) + "."
    before = any(a.startswith(name) for base in sides.bases for a in base)
    left, changed_by = (sides.ours, sides.mine) if here else (sides.shared, sides.theirs)
    touched = any(changed_by(a) for a in entry if a in left)
    return left if before and touched else None
