"""No module of the screens imports in a circle, and imports inside functions have their reason.

Both are read from the source, so imports in functions and for types count, too.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

ROOT = Path(__file__).parents[2]
MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for path in sorted((ROOT / "tui").rglob("*.py"))
}

CALLED = "a command, and what it needs, is imported when it is called"
BOOK = "help, and a wrong word, wait for no engine"
SCREEN = "Textual is imported only when a screen opens"
PICTURE = "the first picture comes before the engine and the other pages"
ASKED = "a picture is imported when the first figure is asked for, behind the list"
QUIET = "Ctrl-C is caught while the program is still read"
RARE = "needed by few answers; the others do not wait for it"

# Every import inside a function: module, what it imports, and why not at its top.
INNER = {
    ("tui.console", "tui.main"): QUIET,
    ("tui.main", "tui.commands.reading"): CALLED,
    ("tui.start", "tui.app"): SCREEN,
    ("tui.start", "engine.book"): PICTURE,
    ("tui.app", "tui.screens.editor"): PICTURE,
    ("tui.app", "tui.screens.help"): PICTURE,
    ("tui.app", "tui.screens.listing"): PICTURE,
    ("tui.app", "tui.screens.notice"): PICTURE,
    ("tui.app", "tui.screens.people"): PICTURE,
    ("tui.commands.frame", "engine.book"): BOOK,
    ("tui.commands.frame", "tui.commands.progress"): RARE,
    ("tui.commands.accounts", "engine.book"): BOOK,
    ("tui.commands.demo", "engine.book"): BOOK,
    ("tui.commands.demo", "tui.demo.play"): BOOK,
    ("tui.commands.reading", "engine.book"): BOOK,
    ("tui.commands.reading", "tui.commands.progress"): RARE,
    ("tui.commands.records", "engine.book"): BOOK,
    ("tui.commands.output", "rich.cells"): RARE,
    ("tui.screens.figures", "tui.pictures.margins"): ASKED,
    ("tui.screens.picture", "tui.pictures.bites"): ASKED,
    ("tui.screens.picture", "tui.pictures.plan"): ASKED,
    ("tui.screens.picture", "tui.pictures.rounds"): ASKED,
    ("tui.error_log", "platformdirs"): RARE,
}


def _imports(node: ast.AST, inner: bool = False) -> Iterator[tuple[str, bool]]:
    """Every imported module, and whether a function imports it."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import):
            yield from ((alias.name, inner) for alias in child.names)
        elif isinstance(child, ast.ImportFrom):
            assert child.module
            assert not child.level
            for alias in child.names:
                whole = f"{child.module}.{alias.name}"
                yield (whole if whole in MODULES else child.module), inner
        function = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef)
        yield from _imports(child, inner or function)


IMPORTS = {name: set(_imports(ast.parse(path.read_text()))) for name, path in MODULES.items()}


def test_nothing_imports_in_a_circle():
    graph = {name: {to for to, _ in found if to in MODULES} for name, found in IMPORTS.items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        raise AssertionError(" -> ".join(error.args[1])) from None


def test_every_import_inside_a_function_has_its_reason():
    found = {(name, to) for name, imports in IMPORTS.items() for to, inner in imports if inner}
    assert found == set(INNER)


def test_a_circle_would_be_seen():
    """What the other two rest on: imports in functions and for types are read as well."""
    source = "if TYPE_CHECKING:\n  import tui.app\ndef f():\n  from tui.widgets import page\n"
    assert set(_imports(ast.parse(source))) == {("tui.app", False), ("tui.widgets.page", True)}
