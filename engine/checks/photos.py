"""Rules on a record's reference photos: are they there, can they be seen, are they of now."""

from __future__ import annotations

from engine.checks.changes import last_change
from engine.checks.rule import Say, Says, rule
from engine.checks.view import RecordView
from engine.views.wording import day
from schemas.address import look_up
from schemas.fields import describe
from schemas.record import Record

_NOT_SEEN = ("kept_at", "release")  # besides forces, pressures, times, masses


@rule(
    "no-photo",
    "note",
    "`witnessmark set {record} photos.jaws.file=PATH photos.jaws.shows=jaws` links one.",
)
def no_photo(view: RecordView) -> Says:
    """A record has no reference photo."""
    if not view.model.photos:
        yield Say("photos", "no reference photo is named")


@rule("photo-missing", "warning", "Put the picture there, or correct the path.")
def photo_missing(view: RecordView) -> Says:
    """A reference photo is not on disk."""
    for name, photo in view.photos():
        if photo.state == "missing":
            yield Say(f"photos.{name}.file", f"{photo.path} is not there", photo.hint)


@rule(
    "photo-outside",
    "warning",
    "Move the picture into one of these folders, or have a lead add its folder to book.toml.",
)
def photo_outside(view: RecordView) -> Says:
    """A reference photo lies outside the folders that the book allows."""
    for name, photo in view.photos():
        if photo.state == "outside":
            yield Say(f"photos.{name}.file", photo.why, photo.hint)


@rule("photo-unreadable", "warning", "Take the photo again, or save it as JPEG, PNG or WEBP.")
def photo_unreadable(view: RecordView) -> Says:
    """A reference photo cannot be read, or is no picture."""
    for name, photo in view.photos():
        if photo.state == "unreadable":
            yield Say(f"photos.{name}.file", photo.why, photo.hint)
        elif photo.fault:
            yield Say(f"photos.{name}.file", f"{photo.path} {photo.fault}")


@rule(
    "photo-changed",
    "warning",
    "Look at it; `witnessmark set {record} {address}=now` takes the picture as it is now.",
)
def photo_changed(view: RecordView) -> Says:
    """A reference photo on disk is not the one that was inked."""
    for name, photo in view.photos():
        known = view.model.photos[name].sha256
        if photo.state == "here" and known and known != photo.sha256:
            yield Say(
                f"photos.{name}.sha256",
                f"{photo.path} differs from the picture that was inked: its hash begins "
                f"with {photo.sha256[:10]}, the inked one with {known[:10]}",
            )


@rule(
    "photo-of-nothing",
    "note",
    "Name a section of this record, as jaws, fingers.blank or tray.",
)
def photo_of_nothing(view: RecordView) -> Says:
    """A reference photo says that it shows what the record does not have."""
    for name, photo in view.model.photos.items():
        if photo.shows and look_up(view.document.tree, photo.shows) is None:
            yield Say(f"photos.{name}.shows", f"this record has nothing at {photo.shows!r}")


@rule(
    "photo-older",
    "warning",
    "Take a new photo in its place and ink the record: the picture goes in with it.",
)
def photo_older(view: RecordView) -> Says:
    """A reference photo is older than the jaws, fingers or tray that it shows."""
    for name, photo in view.model.photos.items():
        shows = photo.shows
        if shows is None or not view.linked(f"photos.{name}.file", photo.file).inked:
            continue
        at = last_change(view, shows, is_seen)
        if at is None or _renewed(view, name, photo.file, at):
            continue
        saved = view.life[at].saved
        yield Say(
            f"photos.{name}.file",
            f"{photo.file} is older than {shows}, which {saved.who.name} changed on "
            f"{day(saved.when)} ({saved.subject})",
        )


def is_seen(address: str) -> bool:
    """Whether a value can be seen in a photo: sizes and marks, no forces or times."""
    if address.rpartition(".")[2] in _NOT_SEEN:
        return False
    described = describe(Record, address)
    return described is not None and described.unit in ("", "length", "deg", "axis")


def _is_picture(address: str) -> bool:
    return address.endswith((".file", ".sha256"))


def _renewed(view: RecordView, name: str, path: str, at: int) -> bool:
    """Whether a photo was named, hashed or replaced in one step of a record's life or later."""
    renewed = last_change(view, f"photos.{name}", _is_picture)
    if renewed is not None and renewed >= at:
        return True
    before = view.life[at].saved.parents[0]
    then = view.session.git.blob_at(before, path) if before else ""
    return then != view.inked_at(path)
