"""Commits side by side have one order: git's, whoever reads them, all at once or as they came."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.log.past import NO_INDEX, Past
from engine.repo.git import Git
from tests.engine.log.random_past import RandomPast
from tests.mini_book import plain_git

SEEDS = (3, 11, 122)  # the order in which commits came is another one in the last two


def _of_git(folder: Path, head: str) -> dict[str, int]:
    listed = plain_git(folder, "rev-list", "--topo-order", "--reverse", head).split()
    return {commit: n for n, commit in enumerate(listed)}


def _stood(past: Past, key: str, spans: list[tuple[str, str]]) -> set[tuple[str, str, int]]:
    """What stood in which spans: of the same value inked twice apart, either counts."""
    rows = past.rows(key, lambda _: True)
    found = past.stood_in([(row.saved.id, row.address) for row in rows], spans)
    pairs = zip(rows, found, strict=True)
    return {(row.address, repr(row.new), span) for row, own in pairs for span in own}


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("plain", [False, True], ids=["index", "walk"])
def test_steps_and_changes_stand_as_git_has_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int, plain: bool
) -> None:
    if plain:
        monkeypatch.setenv(NO_INDEX, "1")
    made = RandomPast(tmp_path / "book", seed, commits=30)
    heads, order = made.heads, _of_git(made.folder, made.heads[-1])
    git, stood_first = Git(made.folder), dict[str, object]()
    some = list(order)[::4]
    spans = [(start, end) for start in some for end in some[1:]]
    for name, read in {"at once": heads[-1:], "as it came": heads}.items():
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / name))
        past = Past(git)
        for head in read:
            past.refresh(head)
            past.count()
        for key in past.documents():
            steps = [order[step.saved.id] for step in past.life(key)]
            assert steps == sorted(steps), name
            rows = [order[row.saved.id] for row in past.rows(key, lambda _: True)]
            assert rows == sorted(rows), name
            stood = _stood(past, key, spans)
            assert stood == stood_first.setdefault(key, stood), name
        past.close()
    git.close()
