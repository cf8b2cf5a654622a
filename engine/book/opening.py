"""Opening and starting a book: safety first, then what a crash left, then reading.

Starting takes in the files of a book that already lie in a folder, as they are,
and never touches a folder that has a history.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from engine.book import rewritten
from engine.book.saving import Save, save
from engine.book.session import Clock, Held, Session
from engine.drafts.by_hand import strays
from engine.drafts.pencil import hidden, stamps
from engine.log import index_file
from engine.people.identity import identify
from engine.repo.accounts import current_login
from engine.repo.door import check_git
from engine.repo.durable import disk_refused, make_folders
from engine.repo.git import Git, create
from engine.repo.lock import on_network
from engine.repo.rights import open_to_all, stop_if_hidden, stop_if_object_hidden
from engine.repo.safety import check_repository
from engine.repo.share import share, wanted_sharing
from engine.repo.work_tree import read_file
from engine.views import Identity
from engine.views.wording import joined
from schemas.address import Tree
from schemas.document import check_tree, kind_of, name_of, read_document
from schemas.errors import BookError, NoRight, ReadError, UsageError
from schemas.people import People

_TAKEN_IN = ("book.toml", "people.toml", "cells", "records", "programs", "photos")


def open_session(folder: Path, clock: Clock) -> Session:
    """A session on a book that is safe to open, with an unfinished save finished."""
    folder = folder.resolve()
    stop_if_hidden(folder)
    check_repository(folder)
    session = Session(folder, clock)
    session.git.branch()
    with suppress(OSError):  # an auditor may read where nothing can be written
        make_folders(session.private)
    session.inker.mend_if_needed()
    session.refresh()
    if not session.head:
        stop_if_object_hidden(folder, "HEAD")
    if not session.head or "book.toml" not in session.entries:
        raise _no_book(session)
    return session


def _no_book(session: Session) -> BookError:
    """What to say of a history that holds no book, or holds one no longer."""
    life = session.past.life("book") if session.head else []
    texts = [step.saved for step in life if step.new]
    if not texts:
        hint = "`witnessmark init DIR` starts a book."
        return BookError("the history holds no book.toml", where=str(session.folder), hint=hint)
    by = f" by {life[-1].saved.who.name} ({life[-1].saved.id[:10]})" if not life[-1].new else ""
    return BookError(
        f"book.toml was taken out of this book{by}",
        where=str(session.folder),
        hint=f"`git checkout {texts[-1].id[:10]} -- book.toml` and a plain `git commit` bring it "
        "back; nothing else is lost.",
    )


def warnings(session: Session) -> list[str]:
    """What a person should know about the book as a whole."""
    said = []
    network = on_network(session.folder)
    if network:
        said.append(
            f"the book lies on a network file system ({network}), where saving from two "
            "machines at once is untested; keep it on a local disk and sync"
        )
    closed = [session.person(key).name for key in hidden(session.private)]
    if closed:
        said.append(
            f"the pencil of {joined(closed)} cannot be read by the account {current_login()}; "
            f"`witnessmark share {session.folder}` by its owner opens it"
        )
    if open_to_all(session.folder, *session.git.folders()):
        said.append(
            "every account of this machine can write to the book's folder, and so put another past "
            f"in its place: `chmod -R o-w {session.folder}` closes it"
        )
    said += session.inker.left_in_words()
    said += [error.message for error in rewritten.findings(session)]
    if rewritten.another_book(session):
        said.append("another book lay here before; its history is not in this one's past")
    for name in ("book", "people"):
        try:
            session.read(name)
        except UsageError:
            said.append(f"the book has no {name}.toml")
        except ReadError as error:
            said.append(str(error))
    return said


def pencil_moved(session: Session) -> bool:
    """Whether anybody's journal is another than at the last look."""
    before, session.pencil_seen = session.pencil_seen, stamps(session.private)
    return session.pencil_seen != before


def stray_path(session: Session, name: str) -> str:
    """Path of a record or cell that is on disk only, or empty."""
    if session.knows(name):
        return ""  # the folder is looked through for what the head does not know only
    wanted = name.removesuffix(".toml").removeprefix("records/")
    return next((p for p in strays(session.folder, session.entries) if name_of(p) == wanted), "")


@dataclass(frozen=True, slots=True)
class Founding:
    """How a book is to begin: for whom, under which name, and shared with whom (`how`, `group`)."""

    as_person: str
    login: str
    name: str = ""
    shared: str = ""
    group: str = ""


def start(folder: Path, how: Founding, clock: Clock) -> None:
    """Start a book; files of one that lie there are taken in as they are."""
    try:
        _start(folder, how, clock)
    except PermissionError as error:
        path = Path(error.filename or folder)
        raise NoRight(
            f"the account {current_login()} may not make or read this: {error.strerror}",
            where=str(path),
            hint="Nothing was begun. Name a folder of yours, or look at its owner and rights.",
        ) from error
    except OSError as error:
        hint = "Look at space and rights, then start it again: what is there already stays."
        raise disk_refused(error, folder, hint) from error


def _start(folder: Path, how: Founding, clock: Clock) -> None:
    stop_if_hidden(folder)
    if how.shared or how.group:
        wanted_sharing(how.shared)
    check_git()
    folder = _room_for(folder)
    files = _files_there(folder)
    files.setdefault("book.toml", _book_file(how.name or folder.resolve().name))
    files.setdefault("people.toml", _people_file(how.as_person or how.login, how.login))
    for path, data in files.items():
        if kind_of(path) and data is not None:
            read_document(data, path)
    who = _founder(files, how.login, how.as_person, clock)
    create(folder, how.shared)
    if how.shared:
        share(folder, how.shared, how.group)
    index_file.throw_away(index_file.place_of(folder))  # of a book that lay here before
    session = Session(folder.resolve(), clock)

    session.identity = who
    held = Held(session, "book", "book.toml", "book", "")
    save(session, lambda: Save(held, "start", "the book begins", files), what="start a book")


def _room_for(folder: Path) -> Path:
    """The folder, made where it was not there, by its whole path. BookError where it cannot be,
    PermissionError where this account may not."""
    given, folder = folder, folder.absolute()
    try:
        folder = folder.resolve()
        _stop_inside_another(folder)
        if _has_history(folder):
            raise BookError(
                "this folder has a history already",
                where=str(given),
                hint="Open it, or start a book in another folder.",
            )
        folder.mkdir(parents=True, exist_ok=True)
        if not os.access(folder, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(folder))
    except PermissionError:
        raise
    except FileExistsError:
        raise BookError("this is a file", where=str(given), hint="Name a folder.") from None
    except (OSError, RuntimeError) as error:  # a link that leads to itself is the latter
        reason = error.strerror if isinstance(error, OSError) else "its links go round in a circle"
        raise BookError(
            f"no book can be started here: {reason}",
            where=str(given),
            hint="Look at the folder and its rights, or name another one.",
        ) from error
    return folder


def _stop_inside_another(folder: Path) -> None:
    """BookError in the folder of another book, or in a repository's own: it would be lost there."""
    for above in folder.parents:
        if (above / "book.toml").exists() and (above / ".git").is_dir():
            raise BookError(
                f"this folder lies in the book {above}",
                where=str(folder),
                hint="Name a folder beside it: a book in a book is kept by neither.",
            )
    if ".git" in folder.parts or ((folder / "HEAD").is_file() and (folder / "objects").is_dir()):
        raise BookError(
            "this folder is the inside of a repository",
            where=str(folder),
            hint="Name a folder of its own for the book.",
        )


def _has_history(folder: Path) -> bool:
    """Whether a folder has one; one that a crash left without a commit is begun again."""
    if not (folder / ".git").exists():
        return False
    check_repository(folder)
    return Git(folder).has_refs()


def _files_there(folder: Path) -> dict[str, bytes | None]:
    """Files of a book by path. UsageError for a link: what it leads to is not the book's."""
    found: dict[str, bytes | None] = {}
    for top in _TAKEN_IN:
        root = folder / top
        paths = [root] if root.is_symlink() or root.is_file() else sorted(root.rglob("*"))
        for path in paths:
            relative = path.relative_to(folder).as_posix()
            hidden = any(part.startswith(".") for part in relative.split("/"))
            if not hidden and (path.is_symlink() or not path.is_dir()):
                found[relative] = read_file(folder, relative)
    return found


def _founder(files: dict[str, bytes | None], login: str, as_person: str, clock: Clock) -> Identity:
    model = read_document(files["people.toml"] or b"", "people.toml").model
    assert isinstance(model, People)
    who = identify(model, login, as_person, clock().date())
    if not who.may_lead:
        leads = [key for key, person in model.people.items() if person.may_lead(clock().date())]
        raise UsageError("a lead starts a book", hint=f"--as one of: {', '.join(leads)}")
    return who


def _book_file(name: str) -> bytes:
    tree: Tree = {
        "format": 1,
        "book": {"name": name, "id": f"book-{secrets.token_hex(4)}"},
        "policy": {"reason_for": ["positions.*", "jaws", "fingers"]},
    }
    return check_tree(tree, "book.toml").bytes


def _people_file(person: str, login: str) -> bytes:
    key = re.sub(r"[^A-Za-z0-9_-]", "-", person)[:64] or "lead"
    someone = {"name": person or key, "roles": ["setter", "lead"], "logins": [login]}
    return check_tree({"format": 1, "people": {key: someone}}, "people.toml").bytes
