"""First part of a sheet: blank and part, what clamps, what holds, and the tray.

Each thing that is carried to the machine has its mark, its keeping place and
its photo beside the values to check.
"""

from __future__ import annotations

from collections.abc import Sequence

from engine.exports.page import EDGE, RIGHT, ROOM, PaperPage
from engine.exports.paper import SetUp
from engine.exports.parts import caution, heading, named, pairs
from engine.exports.pictures import grey
from engine.exports.tray_plan import draw_tray
from engine.exports.values import PrintedValue, entry, worded

_PHOTO_WIDE, _PHOTO_TALL = 41.0, 30.5
_LOCK_OUT = "lock out before changing jaws or fingers; nobody reaches into a live loader."


def draw(page: PaperPage, set_up: SetUp) -> None:
    """Draw it."""
    _pieces(page, set_up)
    _clamp(page, set_up)
    for what in dict.fromkeys(["blank", "part", *set_up.record.fingers]):
        _fingers(page, set_up, what)
    draw_tray(page, set_up, lambda x, y, w, h: _photo(page, set_up, "tray", x, y, w, h))


def _pieces(page: PaperPage, set_up: SetUp) -> None:
    heading(page, "Blank and part")
    blank = [_one(set_up, f"blank.{name}", label) for name, label in _sizes(set_up, "blank")]
    part = [_one(set_up, f"part.{name}", label) for name, label in _sizes(set_up, "part")]
    blank.append(_one(set_up, "blank.material", "material"))
    half, taken = ROOM / 2 - 2, 0.0
    for x, title, entries in (
        (EDGE, "Blank: goes in", blank),
        (EDGE + half + 4, "Part: comes out", part),
    ):
        page.text(x, page.y, title, 10, "B")
        widths = (half * 0.59, half * 0.41)
        taken = max(taken, pairs(page, x, page.y + 5, widths, entries, label=15))
    page.y += 6 + taken


def _sizes(set_up: SetUp, what: str) -> list[tuple[str, str]]:
    """The sizes that this shape has, and always shape, height and mass."""
    shape = getattr(set_up.record, what).shape
    by_shape: dict[str | None, tuple[str, ...]] = {
        "hexagon": ("across_flats",),
        "block": ("width", "length"),
        "tube": ("diameter", "bore"),
    }
    names = list(by_shape.get(shape, ("diameter",)))
    rest = [n for n in ("bore", "held", "width", "length") if f"{what}.{n}" in set_up.inked]
    names = [n for n in names if n in type(getattr(set_up.record, what)).model_fields]
    found = ["shape", *dict.fromkeys([*names, *rest]), "height", "mass"]
    return [(name, "held at" if name == "held" else name.replace("_", " ")) for name in found]


def _one(set_up: SetUp, address: str, label: str) -> PrintedValue:
    return entry(set_up, label, address)


def _clamp(page: PaperPage, set_up: SetUp) -> None:
    entries = [
        entry(set_up, "kept at", "jaws.kept_at"),
        entry(set_up, "clamps", "jaws.kind", "jaws.inside_or_outside"),
        entry(set_up, "bite", "jaws.bite"),
        entry(set_up, "stroke", "jaws.stroke"),
        entry(set_up, "gap, open", "jaws.gap"),
        entry(set_up, "pressure", "jaws.clamp_pressure"),
        entry(set_up, "blow-off", "blow_off.seconds", "blow_off.pressure", join=" at "),
        entry(set_up, "hand-over", "jaws.release"),
    ]
    _held(page, set_up, "Jaws", "jaws", entries)


def _fingers(page: PaperPage, set_up: SetUp, what: str) -> None:
    at = f"fingers.{what}"
    entries = [
        entry(set_up, "kept at", f"{at}.kept_at"),
        entry(set_up, "hold", f"{at}.hold", f"{at}.form", f"{at}.half_angle"),
        entry(set_up, "bite", f"{at}.bite"),
        entry(set_up, "tip", f"{at}.tip"),
        entry(set_up, "opening", f"{at}.opening"),
        entry(set_up, "closed limit", f"{at}.closed_limit"),
        entry(set_up, "force, each", f"{at}.force"),
        entry(set_up, "settle", f"{at}.settle"),
    ]
    _held(page, set_up, f"Fingers for the {what}", at, entries)


def _held(
    page: PaperPage, set_up: SetUp, title: str, at: str, entries: Sequence[PrintedValue]
) -> None:
    """Values at the left, the photo at the right, a caution where hands go in."""
    page.need(_PHOTO_TALL + 6)
    top = page.y
    mark = entry(set_up, "", f"{at}.id")
    width = ROOM - _PHOTO_WIDE - 5
    heading(page, named(title, mark), width=width)
    taken = pairs(page, EDGE, page.y, (width / 2, width / 2), entries)
    if at == "jaws":
        taken += caution(page, EDGE, page.y + taken, _LOCK_OUT, width)
    _photo(page, set_up, at, RIGHT - _PHOTO_WIDE, top + 2.2, _PHOTO_WIDE, _PHOTO_TALL)
    page.y = max(page.y + taken, top + 2.2 + _PHOTO_TALL) + 1.5


def _photo(
    page: PaperPage, set_up: SetUp, shows: str, x: float, y: float, wide: float, tall: float
) -> None:
    """The photo that shows a section, with what to look at; or that there is none."""
    photos = set_up.record.photos
    name = next((n for n, photo in photos.items() if photo.shows == shows), None)
    page.box(x, y, wide, tall)
    if name is None:
        page.text(x, y + tall / 2 - 2, "no photo in the record", 8, width=wide, align="C")
        return
    data = set_up.photos.get(name)
    picture = grey(data) if data is not None else None
    if picture is None:
        why = "cannot be read" if data is not None else "is not in the book"
        page.text(x + 1, y + tall / 2 - 4, worded(photos[name].file), 8, width=wide - 2, align="C")
        page.text(x + 1, y + tall / 2, why, 8, "B", width=wide - 2, align="C")
        return
    note = photos[name].note
    strip = 4.2 if note else 0.0
    page.picture(x + 0.3, y + 0.3, wide - 0.6, tall - 0.6 - strip, picture)
    if note:
        page.text(x + 1, y + tall - 4.1, note, 8, "B", width=wide - 2)
