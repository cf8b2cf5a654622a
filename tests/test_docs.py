"""What the docs say is what there is."""

import re
import runpy
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from engine.book import Book
from engine.checks import RULES
from schemas.fields import describe
from tests.engine.figures.mill_case import case
from tests.mini_book import SEAT
from tui.main import _COMMANDS

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]


def test_the_page_of_rules_is_up_to_date() -> None:
    made = runpy.run_path(str(ROOT / "docs" / "make_rules.py"))["page"]()
    assert (ROOT / "docs" / "rules.md").read_text(encoding="utf-8") == made


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), target


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_rooms_and_files_that_are_named_are_there(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    named = re.findall(r"(?<![\w/.])((?:engine|tui|schemas|tests|docs)/[\w./*-]+)", text)
    for path in named:
        assert list(ROOT.glob(path.rstrip("."))), path


def test_readme_names_only_commands_that_exist() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"^witnessmark ([a-z-]+)", text, flags=re.MULTILINE))
    assert named
    assert named <= {*_COMMANDS, "open", "--book"}


def _example(heading: str) -> str:
    """The block of Python below a heading of DEVELOPERS.md."""
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    found = re.search(rf"^## {heading}\n.*?^```python\n(.*?)^```", page, re.MULTILINE | re.DOTALL)
    assert found
    return found[1]


def test_the_example_of_a_check_works_as_it_is_copied(at: Callable[[str], Book]) -> None:
    known = set(RULES)
    try:
        exec(compile(_example("To add a check"), "example.py", "exec"), {})
        (fresh,) = set(RULES) - known
        book = at("ole")
        assert [f for f in book.check([SEAT]) if f.rule == fresh] == []
        book.document(SEAT).pencil.clear("photos.jaws.shows")
        book.document(SEAT).ink()
        found = [(f.address, f.level) for f in book.check([SEAT]) if f.rule == fresh]
        assert found == [("photos.jaws.shows", "note")]
    finally:
        for name in set(RULES) - known:
            del RULES[name]


def test_the_example_of_a_field_works_as_it_is_copied(monkeypatch: pytest.MonkeyPatch) -> None:
    text = (ROOT / "schemas" / "record.py").read_text(encoding="utf-8")
    section = '    """What clamps in the machine: vice jaws, chuck jaws or a collet."""\n\n'
    assert section in text
    module = ModuleType("another_record")
    monkeypatch.setitem(sys.modules, "another_record", module)
    text = text.replace(section, section + _example("To add a field"))
    exec(compile(text, "another_record.py", "exec"), module.__dict__)
    assert module.is_coupled("jaws.clear_height")
    known = describe(module.Record, "jaws.clear_height")
    assert known is not None
    assert (known.meaning, known.unit) == ("room over the clamped blank", "length")


def test_the_example_of_a_figure_works_as_it_is_copied() -> None:
    text = (ROOT / "engine" / "figures" / "groups" / "bite.py").read_text(encoding="utf-8")
    module: dict[str, Any] = {"__name__": "another_bite"}
    exec(compile(text + _example("To add a figure"), "another_bite.py", "exec"), module)
    facts = case({"blank.height": 40.0, "jaws.bite": 8.0})
    figure = module["_share"](facts, "blank")
    assert figure.value == pytest.approx(0.2)  # 8 of 40
    assert {asked.address for asked in figure.inputs()} >= {"blank.height", "jaws.bite"}
    assert module["_share"](case(without=["jaws.bite"]), "blank").missing == ("jaws.bite",)
