"""What the docs say is what there is."""

import re
import runpy
from pathlib import Path

import pytest

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


def test_readme_names_only_commands_that_exist() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"^witnessmark ([a-z-]+)", text, flags=re.MULTILINE))
    assert named
    assert named <= {*_COMMANDS, "open", "--book"}
