"""Going about in a document: by sections, and along what was changed last."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.screens.editor.contents import group_of
from tui.screens.editor.document import EditedDocument

if TYPE_CHECKING:
    from engine.book import DocumentHandle


def next_section(document: EditedDocument) -> None:
    """To the next section or station."""
    _to_section(document, 1)


def last_section(document: EditedDocument) -> None:
    """To the section or station before."""
    _to_section(document, -1)


def _to_section(document: EditedDocument, by: int) -> None:
    lines = document.page.lines
    listed = [f.address for f in document.fields if lines.index(f.address) >= 0]
    starts = [
        n
        for n, address in enumerate(listed)
        if n == 0 or group_of(address) != group_of(listed[n - 1])
    ]
    place = next((n for n, address in enumerate(listed) if address == lines.key), 0)
    beyond = [n for n in starts if (n - place) * by > 0]
    if beyond:
        lines.choose(listed[beyond[0] if by > 0 else beyond[-1]])


def last_change(document: EditedDocument) -> None:
    """To the last change: my pencil, newest first, else what the last ink changed."""
    if document.trail:
        _follow(document)
        return
    mine = [each.mine for each in document.fields if each.mine is not None]
    if mine:
        newest = sorted(mine, key=lambda mark: mark.at, reverse=True)
        _start(document, [mark.address for mark in newest])
        return
    document.page.ask(
        "looking back",
        lambda book: _last_inked(document.subject.of(book)),
        lambda found: _start(document, found),
    )


def _start(document: EditedDocument, addresses: list[str]) -> None:
    document.trail = addresses
    if addresses:
        _follow(document)
    else:
        document.page.tell("Nothing was changed here yet.")


def _follow(document: EditedDocument) -> None:
    address = document.trail.pop(0)
    document.goto(address)
    left = f", {len(document.trail)} more with l" if document.trail else ""
    document.page.tell(f"Last changed: {address}{left}")


def _last_inked(asked: DocumentHandle) -> list[str]:
    """Addresses that the last ink changed."""
    inks = [mark for mark in asked.past.marks() if mark.kind == "ink"]
    if len(inks) < 2:
        return []
    return [c.address for c in asked.past.compare(inks[1].name, inks[0].name).changes]
