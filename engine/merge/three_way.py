"""Two people's values become one document's: by address, with what the values mean.

Of every address the result holds what one of the two sides says, never a third
value: so each value still belongs to the commit that made it, and the merge to
nobody. The coupled group of a record (heights, bites, jaws, fingers, tray,
positions) is taken whole from one side, and so is a link with its hash. Where both
changed the same thing, the shared side stays and the other one is named in
`contested`, for a person to decide.

`bases` are the texts from which both sides came; more than one where hand-made
merges crossed. A value counts as changed by a side if no base holds it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from schemas.address import Value, same_text, same_value
from schemas.record import is_coupled

Values = Mapping[str, Value]
FITS = "fits"  # the group of everything that belongs together physically
OWN_ENTRY = 3  # keys of an address that lies in an entry of a keyed table: photos.jaws.shows


@dataclass
class Joined:
    """The merged values. `contested` and `kept` are addresses.

    `contested`: both changed it, the shared value stands in `values`.
    `kept`: one side took out the entry that the other changed; the change stands.
    """

    values: dict[str, Value]
    contested: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)


def join(
    bases: Sequence[Values],
    ours: Values,
    shared: Values,
    group_of: Callable[[str], str] = lambda _: "",
) -> Joined:
    """Merge two sides; `group_of` names the group that an address stands or falls with."""
    result = Joined({})
    for bundle in _bundles([*shared, *ours], group_of):
        one_fit = group_of(bundle[0]) == FITS
        left = None if one_fit else _left_of_entry(bases, ours, shared, bundle)
        if left is not None:
            result.kept += bundle
            _take(result, bundle, left, [])
            continue
        for group in _by(bundle, lambda address: group_of(address) or address):
            _take(result, group, *_of_group(bases, ours, shared, group))
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


def _take(result: Joined, addresses: Iterable[str], side: Values, contested: list[str]) -> None:
    result.values |= {address: side[address] for address in addresses if address in side}
    result.contested += contested


def changed(bases: Sequence[Values], value: Value | None, address: str) -> bool:
    """Whether a value is none of the bases'."""
    known = bases or ({},)
    return not any(same_value(value, base.get(address)) for base in known)


def _of_group(
    bases: Sequence[Values], ours: Values, shared: Values, group: Sequence[str]
) -> tuple[Values, list[str]]:
    """The side that stands for a whole group (or a single value), and what is contested.

    A side whose changes the other side made as well, and more, gives way to it.
    """
    differ = [a for a in group if not same_value(ours.get(a), shared.get(a))]
    mine = [a for a in differ if changed(bases, ours.get(a), a)]
    theirs = [a for a in differ if changed(bases, shared.get(a), a)]
    if not differ:
        return (ours if _only_respelt_here(bases, ours, shared, group) else shared), []
    if not mine and not theirs:  # several bases, each side as one of them: nobody can tell
        return shared, differ
    return (shared, mine) if theirs else (ours, [])


def _only_respelt_here(
    bases: Sequence[Values], ours: Values, shared: Values, group: Sequence[str]
) -> bool:
    """Whether values that are equal are spelt as before on the shared side, and not here."""

    def as_before(side: Values) -> bool:
        return any(all(same_text(side.get(a), base.get(a)) for a in group) for base in bases)

    return as_before(shared) and not as_before(ours)


def _left_of_entry(
    bases: Sequence[Values], ours: Values, shared: Values, entry: Sequence[str]
) -> Values | None:
    """The side that changed an entry which the other one took out whole, or None."""
    here, there = any(a in ours for a in entry), any(a in shared for a in entry)
    if here == there:
        return None
    name = ".".join(entry[0].split(".")[:2]) + "."
    before = any(a.startswith(name) for base in bases for a in base)
    left = ours if here else shared
    touched = any(changed(bases, left.get(a), a) for a in entry)
    return left if before and touched else None
