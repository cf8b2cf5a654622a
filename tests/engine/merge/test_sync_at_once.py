"""Boxes that sync at the very same time: each is faster than another once, none loses a value."""

from __future__ import annotations

import multiprocessing

from engine.book import Book
from tests.mini_book import BUSH, SEAT, Stepping, plain_git, session_of

EACH = 5


def _worker(folder, person, record, tool, results):
    book = Book.open(folder, login=person, clock=Stepping())
    for n in range(EACH):
        book.document(record).pencil.set(f"tools.{tool}.length", str(10 + n))
        book.document(record).ink("as measured")
        results.put((tool, book.sync().problem))
    book.close()


def test_three_boxes_at_once_lose_nothing(shop):
    work = [
        ("one", "mira", SEAT, "T11"),
        ("two", "ole", SEAT, "T12"),
        ("three", "ole", BUSH, "T13"),
    ]
    for name, person, *_ in work:
        shop.box(name, person)
    context = multiprocessing.get_context("spawn")
    results = context.Queue()
    workers = [
        context.Process(target=_worker, args=(shop.folder / name, person, record, tool, results))
        for name, person, record, tool in work
    ]
    for worker in workers:
        worker.start()
    done = [results.get(timeout=120) for _ in range(EACH * len(work))]
    for worker in workers:
        worker.join(60)
        assert worker.exitcode == 0
    assert {problem for _, problem in done} == {""}
    books = [shop.box(name, person) for name, person, *_ in work]
    for book in books:
        book.sync()
    assert {book.head for book in books} == {shop.hub_tip()}
    for _, person, record, tool in work:
        items = books[0].document(record).past.trace(f"tools.{tool}.length")
        assert [item.change.new for item in items] == list(range(10, 10 + EACH))
        assert {item.who.key for item in items} == {person}
    assert plain_git(shop.hub, "fsck", "--strict") == ""


def test_a_second_sync_on_one_box_waits_for_the_first(shop, monkeypatch):
    from engine.repo import lock
    from engine.repo.lock import held
    from schemas.errors import Refused

    monkeypatch.setattr(lock, "PATIENCE", 0.2)
    book = shop.box("one", "mira")
    with held(session_of(book).private, "sync-lock"):
        try:
            book.sync()
        except Refused as refused:
            assert "syncing" in refused.what  # noqa: PT017
        else:
            raise AssertionError("two syncs of one box at once")
        book.document(SEAT).pencil.set("lot.quantity", "5")
        assert book.document(SEAT).ink().commit  # but saving goes on
