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


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("plain", [False, True], ids=["index", "walk"])
def test_steps_and_changes_stand_as_git_has_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int, plain: bool
) -> None:
    if plain:
        monkeypatch.setenv(NO_INDEX, "1")
    made = RandomPast(tmp_path / "book", seed, commits=30)
    heads, order = made.heads, _of_git(made.folder, made.heads[-1])
    git = Git(made.folder)
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
        past.close()
    git.close()
