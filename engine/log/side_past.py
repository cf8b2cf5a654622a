"""What people decided on one side since two sides parted, read from git commit by commit.

An end value does not say it: a value that was changed and put back, with a reason, is a
decision too. Only the commits of that side are read, and values only of documents that
somebody asks for, so the cost is that of the absence and never that of the book.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from engine.log import canonical_text
from engine.log.attribution import WITH_VALUES, Attribution, Touched, changed_against_all
from engine.log.canonical_text import unspell
from engine.log.commits import Saved, ValueChange, read_saved
from engine.log.document_cache import DocumentCache, spelt_slowly
from engine.log.past import Past
from engine.log.recent_texts import RecentTexts
from engine.repo.git import Git
from engine.repo.stream import Streamed, commits
from schemas.address import Value, same_value
from schemas.document import kind_of

Changes = list[tuple[str, str | None, str | None]]


class SidePast:
    """Changes on one side, by document and by file; of none where nothing was read."""

    def __init__(self) -> None:
        self._steps: dict[str, list[tuple[Saved, Touched]]] = {}
        self._files: dict[str, list[Saved]] = {}
        self._rows: dict[str, list[ValueChange]] = {}
        self._texts: _Texts | None = None

    @classmethod
    def since(cls, past: Past, side: str, bases: Sequence[str]) -> SidePast:
        """What the commits of a side did that are in the past of none of the bases."""
        made, known = cls(), _Known(past)
        texts = made._texts = _Texts(past.git, known)
        for one in commits(past.git, side, *(f"^{base}" for base in bases)):
            saved = read_saved(one.raw, known.after_sums)
            known.parents[saved.id] = saved.parents
            known.summed[saved.id] = saved.summed
            for touched in _own(texts.attribution.touched(one), one):
                known.paths.setdefault(touched.key, set()).add(touched.path)
                known.texts[saved.id, touched.key] = touched.new
                made._steps.setdefault(touched.key, []).append((saved, touched))
            for path in _own_files(one):
                made._files.setdefault(path, []).append(saved)
        return made

    # documents

    def rows(self, key: str) -> list[ValueChange]:
        """Every change of a value of a document, oldest first."""
        if key not in self._rows:
            self._rows[key] = [row for step in self._steps.get(key, ()) for row in self._of(*step)]
        return self._rows[key]

    def _of(self, saved: Saved, touched: Touched) -> list[ValueChange]:
        assert self._texts is not None  # else there are no steps
        return [
            ValueChange(saved, touched.key, touched.path, address, _value(old), _value(new))
            for address, old, new in self._texts.changes(saved, touched)
        ]

    def addresses(self, key: str) -> frozenset[str]:
        """Addresses whose value somebody changed, whatever it is now."""
        return frozenset(row.address for row in self.rows(key))

    def paths(self, key: str) -> frozenset[str]:
        """Where a document was put, by renames too that were taken back."""
        return frozenset(touched.path for _, touched in self._steps.get(key, ()) if touched.new)

    def last(self, key: str) -> Saved | None:
        """The last commit that changed a document's text, or took it out."""
        steps = self._steps.get(key)
        return steps[-1][0] if steps else None

    def who(
        self, key: str, address: str, value: Value | None, together: Callable[[str], bool]
    ) -> Saved | None:
        """The commit that stands behind a value: the last that made it, or that changed it, or
        that changed anything which belongs `together` with it."""
        rows = self.rows(key)
        own = [row for row in rows if row.address == address]
        made = [row for row in own if same_value(row.new, value)]
        near = [row for row in rows if together(row.address)]
        found = made or own or near
        return found[-1].saved if found else None

    # other files

    def file(self, path: str) -> Saved | None:
        """The last commit that changed a file, whatever it holds now."""
        saves = self._files.get(path)
        return saves[-1] if saves else None


def _own(found: Sequence[Touched], one: Streamed) -> list[Touched]:
    """What a commit did by itself: a merge that takes one side's text only passes it on.

    With one parent all is its own, though the file that counts be another one's that stays: of
    two with one identity the first was taken out, say.
    """
    if len(one.raw.parents) < 2:
        return list(found)
    paths = [{file.path for file in files} for files in one.differing]
    return [each for each in found if all(each.path in changed for changed in paths)]


def _own_files(one: Streamed) -> list[str]:
    """Files, not documents with values, in which a commit differs from all its parents."""
    first, *others = [[f.path for f in files] for files in one.differing]
    return [
        path
        for path in first
        if kind_of(path) not in WITH_VALUES and all(path in files for files in others)
    ]


def _value(spelt: str | None) -> Value | None:
    return None if spelt is None else unspell(spelt)


class _Texts:
    """The texts of one side, read as quickly as when the index is built."""

    def __init__(self, git: Git, known: _Known) -> None:
        self._kept = RecentTexts(git)
        self._cache = DocumentCache(self._kept)
        self.attribution = Attribution(git, self._cache, known)

    def changes(self, saved: Saved, touched: Touched) -> Changes:
        """Address, old and new value, spelt, of what one commit changed in one document."""
        kind = kind_of(touched.path)
        if kind not in WITH_VALUES:
            return []
        if touched.olds and touched.new and all(touched.olds):
            quick = self._kept.quick_change(kind, touched.olds, touched.new)
            if quick is not None:
                return list(changed_against_all(*quick, canonical_text.differ))
        new = self._cache.spelt(touched.path, touched.new)
        if new is None:
            return []  # no TOML at all: the next readable text tells what changed
        olds = [
            spelt_slowly(values)
            for values in self.attribution.values_before(
                touched.key, touched.path, saved.parents, touched.olds
            )
        ]
        return list(changed_against_all(olds, new, canonical_text.differ))


class _Known:
    """What attribution asks of the commits before: of this side as read, of the rest by the past.

    The past of the head knows what both sides have in common.
    """

    def __init__(self, past: Past) -> None:
        self._past = past
        self.parents: dict[str, tuple[str, ...]] = {}
        self.summed: dict[str, bool] = {}
        self.paths: dict[str, set[str]] = {}
        self.texts: dict[tuple[str, str], str] = {}

    def homes(self, key: str) -> set[str]:
        """Every path at which a document ever lay."""
        return {step.path for step in self._past.life(key)} | self.paths.get(key, set())

    def parents_of(self, commit: str) -> tuple[str, ...]:
        """The parents of a commit."""
        if commit in self.parents:
            return self.parents[commit]
        saved = self._past.saved(commit)
        return saved.parents if saved else ()

    def after_sums(self, commit: str) -> bool:
        """Whether a commit has a check sum in it or in its past."""
        if commit in self.summed:
            return self.summed[commit]
        saved = self._past.saved(commit)
        return saved is not None and saved.summed

    def sides(self, parents: Sequence[str], key: str) -> Iterable[int]:
        """Nothing: what a merge decided between its sides is not asked here."""
        return ()

    def text_after(self, commit: str, key: str) -> str | None:
        """The blob that a commit gave a document ("": taken out), None where it gave none."""
        if commit in self.parents:
            return self.texts.get((commit, key))
        steps = self._past.life(key)
        return next((step.new for step in steps if step.saved.id == commit), None)
