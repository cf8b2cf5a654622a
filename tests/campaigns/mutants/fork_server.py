"""Tests collected once, then a child for each fault, which takes the fault with it when it ends.

The server imports the project and collects the tests, but runs none: what a test
leaves in memory (answers that are kept, fixtures) would hide a fault. A child exchanges the
code of functions for the faulty one, in place, and runs the tests that reach it,
quickest first, until one fails. Where a fault lies in what runs on import, a
fresh child that has imported nothing of the project yet reads the faulty module instead.

A child has a limit of processor time; a fault that never ends, or waits for ever,
counts as noticed. Tests that start Python anew (`spawn`) do not see a fault there.
"""

from __future__ import annotations

import collections
import contextlib
import gc
import importlib.abc
import importlib.util
import json
import os
import pkgutil
import resource
import shutil
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).parents[3]
SLACK = 10.0  # seconds of processor time that any child may take
TIMES = 5.0  # and so many times what the tests take without a fault
WAITS = 20.0  # so many times that on the wall clock, for what waits and does nothing
MEMORY = 4 << 30  # bytes
EXAMPLES = 20  # of a property, where its test does not say how many
FRAMES = 20  # calls of one function that are watched line by line in one test
QUIET = ["-q", "--no-header", "--no-summary", "-p", "no:cacheprovider", "-p", "no:xdist",
         "--hypothesis-seed=0", "-o", "tmp_path_retention_policy=none"]  # fmt: skip


def module_of(file: str) -> str:
    """The dotted name of a file."""
    return file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


Answer = dict[str, Any]
Reached = dict[str, dict[str, list[int]]]  # test ("" on import) -> file -> lines


def forked(work: Callable[[], Answer], cpu: float) -> Answer:
    """What a child answers; "hangs" as outcome where a limit ends it, "dies" where it crashes."""
    reader, writer = os.pipe()
    pid = os.fork()
    if pid == 0:
        _be_child(work, reader, writer, cpu)
    os.close(writer)
    place = _place_of(pid)
    text, in_time = _read_all(reader, cpu * WAITS / TIMES)
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    shutil.rmtree(place, ignore_errors=True)
    if text:
        answer: Answer = json.loads(text)
        return answer
    limits = (signal.SIGXCPU, signal.SIGKILL)
    hangs = not in_time or (os.WIFSIGNALED(status) and os.WTERMSIG(status) in limits)
    return {"outcome": "hangs" if hangs else "dies"}


def _place_of(pid: int) -> Path:
    return Path(tempfile.gettempdir()) / f"faults-{pid}"


def _be_child(work: Callable[[], Answer], reader: int, writer: int, cpu: float) -> None:
    """Never returns."""
    try:
        os.close(reader)
        os.setsid()
        nowhere = os.open(os.devnull, os.O_RDWR)
        for number in (0, 1, 2):
            os.dup2(nowhere, number)
        place = _place_of(os.getpid())
        place.mkdir(exist_ok=True)
        os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = str(place / "examples")
        resource.setrlimit(resource.RLIMIT_CPU, (int(cpu) + 1, int(cpu) + 5))
        resource.setrlimit(resource.RLIMIT_DATA, (MEMORY, MEMORY))
        os.write(writer, json.dumps(work()).encode())
    finally:
        os._exit(3)


def _read_all(reader: int, seconds: float) -> tuple[bytes, bool]:
    """What comes out of a pipe until it is closed, and whether that was in time."""
    import select

    text, end = b"", time.monotonic() + seconds
    with os.fdopen(reader, "rb", buffering=0) as pipe:
        while select.select([pipe], [], [], max(0.0, end - time.monotonic()))[0]:
            part = pipe.read(1 << 16)
            if not part:
                return text, True
            text += part
            with contextlib.suppress(ValueError):
                json.loads(text)
                return text, True
    return b"", False


class Collected:
    """The plugin that keeps pytest at its collected tests and hands them to `then`."""

    def __init__(self, then: Callable[[pytest.Session], None], tracer: Tracer | None) -> None:
        self._then = then
        self._tracer = tracer

    def pytest_sessionstart(self) -> None:
        """Few examples, and no shrinking: that a test fails is enough."""
        from hypothesis import Phase, settings

        quick = settings(
            settings.default,
            max_examples=EXAMPLES,
            phases=(Phase.explicit, Phase.generate),
            database=None,
        )
        settings.register_profile("faults", quick)
        settings.load_profile("faults")

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """In place of running them."""
        if session.testsfailed:
            raise RuntimeError("tests cannot be collected")
        if self._tracer:
            self._tracer.import_all()
            self._tracer.stop()
        self._then(session)
        return True


def serve(
    tests: Sequence[str], then: Callable[[pytest.Session], None], tracer: Tracer | None = None
) -> int:
    """Collect these tests, then go on with `then`; pytest's exit code."""
    words = [*QUIET, f"--rootdir={ROOT}", *tests]
    return int(pytest.main(words, plugins=[Collected(then, tracer)]))


class Watch:
    """Notes which tests fail, and the processor time of each, what it starts included."""

    def __init__(self) -> None:
        self.failed: list[str] = []
        self.seconds: dict[str, float] = {}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Called by pytest for each part of each test."""
        if report.failed:
            self.failed.append(report.nodeid)


def run(session: pytest.Session, names: Sequence[str], stop: bool = True) -> Watch:
    """Run tests by their names, in that order."""
    watch = Watch()
    session.config.pluginmanager.register(watch, "watch")
    by_name = {item.nodeid: item for item in session.items}
    items = [by_name[name] for name in names if name in by_name]
    basetemp = _place_of(os.getpid()) / "tmp"
    session.config._tmp_path_factory._basetemp = basetemp  # type: ignore[attr-defined]
    basetemp.mkdir(parents=True)
    for item, after in zip(items, [*items[1:], None], strict=True):
        began = sum(os.times()[:4])
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
        watch.seconds[item.nodeid] = sum(os.times()[:4]) - began
        if stop and watch.failed:
            break
    return watch


# which tests reach what


class Tracer:
    """Notes which lines of some files are run, by a name that can be changed on the way."""

    def __init__(self, files: Sequence[str]) -> None:
        self._files = {str(ROOT / file): file for file in files}
        self.name = ""
        self.found: dict[str, dict[str, set[int]]] = {}
        self._watched: collections.Counter[tuple[str, CodeType]] = collections.Counter()

    def start(self) -> None:
        threading.settrace(self._call)
        sys.settrace(self._call)

    def import_all(self) -> None:
        """Import these files and the engine, also what is imported on use only."""
        import engine

        for name in sorted(self._files.values()):
            importlib.import_module(module_of(name))
        for found in pkgutil.walk_packages(engine.__path__, "engine."):
            importlib.import_module(found.name)

    def stop(self) -> None:
        sys.settrace(None)
        threading.settrace(None)  # type: ignore[arg-type]

    def _call(self, frame: FrameType, event: str, _: object) -> Any:
        code = frame.f_code
        file = self._files.get(code.co_filename)
        if file is None or (self.name == "" and code.co_name == "<module>"):
            return None
        lines = self.found.setdefault(self.name, {}).setdefault(file, set())
        lines.add(code.co_firstlineno)
        seen = self._watched[self.name, code]
        if seen >= FRAMES:
            return None
        self._watched[self.name, code] = seen + 1

        def line(inner: FrameType, what: str, _: object) -> Any:
            if what == "line":
                lines.add(inner.f_lineno)
            return line

        return line

    def as_lists(self) -> Reached:
        return {
            name: {file: sorted(lines) for file, lines in files.items()}
            for name, files in self.found.items()
        }


def reached(session: pytest.Session, tracer: Tracer) -> Answer:
    """In a child: run all tests without a fault; what each reaches and how long it takes."""

    class Names:
        @pytest.hookimpl(tryfirst=True)
        def pytest_runtest_protocol(self, item: pytest.Item) -> None:
            tracer.name = item.nodeid
            tracer.start()

    session.config.pluginmanager.register(Names(), "names")
    watch = run(session, [item.nodeid for item in session.items], stop=False)
    tracer.stop()
    return {"failed": watch.failed, "seconds": watch.seconds, "reached": tracer.as_lists()}


# putting a fault in


def exchange(path: str, swaps: Sequence[tuple[CodeType, CodeType]]) -> int:
    """Let every function that has the old code have the new one; how many there were."""
    wanted = {(old.co_qualname, old.co_firstlineno): new for old, new in swaps}
    count = 0
    for thing in gc.get_objects():
        if isinstance(thing, FunctionType) and thing.__code__.co_filename == path:
            new = wanted.get((thing.__code__.co_qualname, thing.__code__.co_firstlineno))
            if new is not None:
                thing.__code__ = new
                count += 1
    return count


class Faulty(importlib.abc.MetaPathFinder, importlib.abc.InspectLoader):
    """Finds one module before anybody else does, with another text; notes how its import went."""

    def __init__(self, module: str, path: str, text: str) -> None:
        self.module, self.path, self.text = module, path, text
        self.broken = ""

    def find_spec(self, name: str, *_: object) -> Any:
        """The module's spec, with this as its loader."""
        if name != self.module:
            return None
        places = [str(Path(self.path).parent)] if self.path.endswith("__init__.py") else None
        return importlib.util.spec_from_file_location(
            name, self.path, loader=self, submodule_search_locations=places
        )

    def get_source(self, _: str) -> str:
        """The faulty text."""
        return self.text

    def exec_module(self, module: ModuleType) -> None:
        """Run it; what goes wrong is noted."""
        try:
            exec(compile(self.text, self.path, "exec", dont_inherit=True), module.__dict__)
        except BaseException as error:
            self.broken = self.broken or repr(error)[:200]
            raise


def tested(session: pytest.Session, names: Sequence[str]) -> Answer:
    """In a child that bears the fault: whether these tests notice it."""
    began = time.process_time()
    watch = run(session, names)
    return {
        "outcome": "killed" if watch.failed else "lives",
        "by": watch.failed[0] if watch.failed else "",
        "cpu": round(time.process_time() - began, 2),
    }


def tested_afresh(names: Sequence[str], module: str, path: str, text: str) -> Answer:
    """In a child that has imported nothing of the project: the same."""
    faulty = Faulty(module, path, text)
    sys.meta_path.insert(0, faulty)
    answer: Answer = {}
    files = sorted({name.partition("::")[0] for name in names})
    try:
        serve(files, lambda session: answer.update(tested(session, names)))
    except BaseException as error:
        answer.setdefault("why", repr(error)[:200])
    if faulty.broken and "outcome" not in answer:
        return {"outcome": "broken", "why": faulty.broken}
    return answer if "outcome" in answer else {"outcome": "killed", "by": "collecting", **answer}


def lines_of(answer: Mapping[str, Any]) -> Iterator[tuple[str, str, set[int]]]:
    """(test, file, lines) of what `reached` found."""
    for test, files in answer["reached"].items():
        for file, lines in files.items():
            yield test, file, set(lines)
