"""The power goes: only what was flushed is sure to be there, of the rest any part.

The disk takes notes of every write, flush and name of one act (the library of `disk`). From them
the states are built that a cut after the n-th note may leave, under two readings of what a flush
does:

    ordered   as journals of file systems do it: a flush of anything keeps all earlier names, but
              only the flushed file's bytes
    strict    as POSIX has it: a flush of a file keeps its bytes, a flush of a folder its names

and of what was not flushed nothing, all names with no bytes, or a part by chance. What was told
before the cut (the act's notes are on the same disk, and counted as read) must be there
afterwards. A full replay must give the disk as it was, else the notes are worth nothing.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.campaigns import children, disk, oracle
from tests.campaigns.acts import Boxes
from tests.campaigns.children import Notes
from tests.campaigns.disk import Disk, Mode
from tests.campaigns.faults import work
from tests.campaigns.outcome import Kind, Outcome, Wanted

READINGS = {
    "save": ("ordered", "strict"), "pencil": ("ordered", "strict"), "run": ("ordered", "strict"),
    "sign-off": ("ordered", "strict"), "rename": ("ordered", "strict"), "restore": ("ordered",
    "strict"),
    "init": ("ordered",), "sync": ("ordered",),  # git's own parts of these flush files, no folders
}  # fmt: skip
LEFT = ("nothing", "names", "a part")  # what stays of what was not flushed
NOTES = "notes"


@dataclass(frozen=True)
class Step:
    """One note of the disk."""

    what: str  # C made, T cut, W written, F flushed, R renamed, L linked, U taken away, M folder
    inode: int
    at: int
    data: bytes
    path: str
    other: str


@dataclass
class State:
    """Names and bytes, below one folder."""

    files: dict[str, int]  # path -> inode
    folders: set[str]
    data: dict[int, bytes]

    @classmethod
    def of(cls, root: Path) -> State:
        """What lies in a folder."""
        state = cls({}, set(), {})
        for path in root.rglob("*"):
            if path.is_dir():
                state.folders.add(str(path))
            else:
                inode = path.stat().st_ino
                state.files[str(path)] = inode
                state.data[inode] = path.read_bytes()
        return state

    def name(self, step: Step) -> None:
        """Carry out what a step does to names."""
        if step.what == "C":
            self.files[step.path] = step.inode
            self.data.setdefault(step.inode, b"")
        elif step.what == "M":
            self.folders.add(step.path)
        elif step.what == "U":
            self.files.pop(step.path, None)
            self.folders.discard(step.path)
        elif step.what == "R" and step.path in self.folders:
            self._move(step.path, step.other)
        elif step.what in "RL" and step.path in self.files:
            inode = self.files[step.path] if step.what == "L" else self.files.pop(step.path)
            self.files[step.other] = inode

    def _move(self, old: str, new: str) -> None:
        """Give a folder another name, with all that lies in it."""
        moved = {name for name in self.folders if name == old or name.startswith(f"{old}/")}
        self.folders = self.folders - moved | {new + name.removeprefix(old) for name in moved}
        self.files = {
            new + name.removeprefix(old) if name.startswith(f"{old}/") else name: inode
            for name, inode in self.files.items()
        }

    def write(self, step: Step) -> None:
        """Carry out what a step does to bytes."""
        old = self.data.get(step.inode, b"")
        if step.what == "T":
            self.data[step.inode] = old[: step.at].ljust(step.at, b"\0")
        elif step.what == "W":
            end = step.at + len(step.data)
            self.data[step.inode] = old[: step.at].ljust(step.at, b"\0") + step.data + old[end:]

    def contents(self) -> dict[str, bytes]:
        """Bytes by path."""
        return {path: self.data[inode] for path, inode in self.files.items()}


def read_log(file: Path) -> list[Step]:
    """The disk's notes, in order."""
    data, at, steps = file.read_bytes(), 0, []
    while at < len(data):
        end = data.index(b"\n", at)
        what, inode, offset, size, path, other = data[at:end].split(b"\0")
        at = end + 1 + int(size)
        steps.append(Step(what.decode(), int(inode), int(offset), data[end + 1 : at],
                          _plain(path), _plain(other)))  # fmt: skip
    return steps


def _plain(path: bytes) -> str:
    return path.decode("utf-8", "surrogateescape").replace("/./", "/").removesuffix("/.")


def after_cut(start: State, steps: list[Step], reading: str, left: str, dice: Random) -> State:
    """One state that a cut after these steps may leave."""
    state = State(dict(start.files), set(start.folders), dict(start.data))
    names = _kept_names(steps, reading)
    flushed = {step.inode: n for n, step in enumerate(steps) if step.what == "F"}
    cut_names = dice.randrange(len(steps) + 1)
    cut_bytes = dice.randrange(len(steps) + 1)
    for n, step in enumerate(steps):
        some = reading == "strict" and dice.random() < 0.5  # strict: in no order
        part = left == "a part" and (n < cut_names if reading == "ordered" else some)
        if step.what in "CMURL" and (n in names or left == "names" or part):
            state.name(step)
        if n < flushed.get(step.inode, -1) or (left == "a part" and n < cut_bytes):
            state.write(step)
        if step.what == "C":
            state.data.setdefault(step.inode, b"")
    return state


def _kept_names(steps: list[Step], reading: str) -> set[int]:
    """Which steps on names a flush has made sure."""
    kept: set[int] = set()
    waiting: list[int] = []
    for n, step in enumerate(steps):
        if step.what in "CMURL":
            waiting.append(n)
        elif step.what == "F" and reading == "ordered":
            kept |= set(waiting)
            waiting = []
        elif step.what == "F":
            mine = {
                m
                for m in waiting
                if (steps[m].other or steps[m].path).rpartition("/")[0] == step.path
            }
            kept |= mine
            waiting = [m for m in waiting if m not in mine]
    return kept


def run(wanted: Wanted) -> Outcome:
    """As many cuts as wanted, spread over all acts, readings and what is left."""
    outcome = Outcome(left_out=disk.why_not())
    if outcome.left_out:
        return outcome
    boxes, made = Boxes(wanted.place), Disk()
    logs = {act: _noted(act, boxes, made, wanted.place, outcome) for act in READINGS}
    points = [
        (act, reading, left, n)
        for act, readings in READINGS.items()
        for reading in readings
        for left in LEFT
        for n in range(1, len(logs[act][1]) + 1)
    ]
    outcome.counts["cuts there are"] = len(points)
    for act, reading, left, n in wanted.some(points, kind=lambda point: point[:3]):
        start, steps, root = logs[act]
        case = f"{act}: cut after {n} of {len(steps)}, {reading}, {left} of the rest"
        state = after_cut(start, steps[:n], reading, left, Random(f"{wanted.seed} {case}"))
        box = wanted.place / f"cut-{outcome.cases}"
        _lay_down(state, root, box)
        notes = Notes(wanted.place / f"cut-{outcome.cases}.notes")
        notes.path.write_bytes(_told(start, steps[:n], root))
        outcome.cases += 1
        oracle.look(outcome, case, box, act, notes)
        boxes.done_with(box)
    return outcome


def _noted(
    act: str, boxes: Boxes, made: Disk, place: Path, outcome: Outcome
) -> tuple[State, list[Step], Path]:
    """The disk before an act, and the notes of the act; complains where these are not complete."""
    root, _ = boxes.fresh(act)
    notes, log = Notes(root / NOTES), place / f"{act}.log"
    notes.path.touch()
    log.touch()
    start = State.of(root)
    with made.ordered(Mode.RECORD, root, log=log):
        ended = children.run(lambda: work(act, root, notes), notes)
    assert ended.status == 0, f"{act} does not work at all: {notes.all()}"
    real = State.of(root)
    steps = list(_with_unseen(read_log(log), real))
    replayed = State(dict(start.files), set(start.folders), dict(start.data))
    for step in steps:
        replayed.name(step)
        replayed.write(step)
    found, truth = replayed.contents(), real.contents()
    wrong = [path for path in {**found, **truth} if found.get(path) != truth.get(path)]
    if wrong:
        outcome.complain(Kind.WRONG, act, f"the notes do not give the disk: {sorted(wrong)[:5]}")
    return start, steps, root


def _with_unseen(steps: list[Step], real: State) -> Iterator[Step]:
    """git writes a few files past the watched calls (HEAD): taken as written when made."""
    seen = {step.inode for step in steps if step.what in "TW"}
    for step in steps:
        yield step
        data = real.data.get(step.inode, b"")
        if step.what == "C" and step.inode not in seen and data:
            yield Step("W", step.inode, 0, data, step.path, "")


def _told(start: State, steps: list[Step], root: Path) -> bytes:
    """What was told before the cut: the notes as they were written, flushed or not."""
    mine = start.files[str(root / NOTES)]
    return b"".join(step.data for step in steps if step.what == "W" and step.inode == mine)


def _lay_down(state: State, root: Path, box: Path) -> None:
    """Write a state to a folder of its own."""
    move: Callable[[str], Path] = lambda path: box / Path(path).relative_to(root)  # noqa: E731
    shutil.rmtree(box, ignore_errors=True)
    for folder in sorted(state.folders):
        move(folder).mkdir(parents=True, exist_ok=True)
    for path, inode in state.files.items():
        if str(Path(path).parent) in state.folders | {str(root)} and path != str(root / NOTES):
            move(path).parent.mkdir(parents=True, exist_ok=True)
            move(path).write_bytes(state.data[inode])
    config = box / "book/.git/config"
    if config.exists():  # the meeting point lies beside the book in every copy
        config.write_text(config.read_text().replace(str(root), str(box)))
