"""Writes docs/figures.md from the figures themselves: `python docs/make_figures.py`.

The page is never edited by hand; a test compares it with what this writes.
"""

import sys
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from engine.figures.kinds import FigureKind  # noqa: E402 - the checkout must be on the path first

HEAD = """# The figures

What is worked out from a record, its cell and the policy, group by group. A figure fits where its
value keeps its limit, and is tight where less than the tight share of the limit is left. Where an
input is missing it says "cannot tell" and names it. `no limit` stands for values that are for
information only. This page is written by `python docs/make_figures.py`.
"""
COLUMNS = ("figure", "unit", "limit", "tight below", "how", "source", "look at")
BOUNDS = {"least": "at least", "most": "at most", "none": "no limit"}


def kinds() -> list[FigureKind]:
    """Every kind of figure, module by module in the order of their names."""
    found: list[FigureKind] = []
    for path in sorted((ROOT / "engine" / "figures").rglob("[a-z]*.py")):
        module = import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))
        found += [kind for value in vars(module).values() for kind in _in(value)]
    return list(dict.fromkeys(found))


def _in(value: object) -> list[FigureKind]:
    """Kinds that stand alone, or that a table of them holds."""
    every = list(value.values()) if isinstance(value, dict) else [value]
    return [kind for kind in every if isinstance(kind, FigureKind)]


def page() -> str:
    """The whole page."""
    parts, group = [HEAD], ""
    for kind in sorted(kinds(), key=lambda kind: kind.group):
        if kind.group != group:
            group = kind.group
            parts.append(f"\n## {group}\n\n| {' | '.join(COLUMNS)} |\n{'| --- ' * len(COLUMNS)}|")
        parts.append(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in _row(kind))} |")
    return "\n".join(parts) + "\n"


def _row(kind: FigureKind) -> list[str]:
    tight = f"{kind.tight_share:g} of it" if kind.bound != "none" else ""
    if kind.bound != "none" and kind.tight_least:
        tight += f", or {kind.tight_least:g}"
    where = f"`{kind.section}`" if kind.section else ""
    return [kind.name, kind.unit, BOUNDS[kind.bound], tight, kind.formula, kind.source, where]


if __name__ == "__main__":
    (ROOT / "docs" / "figures.md").write_text(page(), encoding="utf-8")
