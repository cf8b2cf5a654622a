"""Writes docs/rules.md from the rules themselves: `python docs/make_rules.py`.

The page is never edited by hand; a test compares it with what this writes.
"""

import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from engine.checks import RULES  # noqa: E402 - the checkout must be on the path first

HEAD = """# The rules of `check`

Names and levels stay as they are: filter by them. `error` makes the exit status 1. This page is
written by `python docs/make_rules.py`.
"""
LEVELS = {
    "error": "Errors: it will not work, or history was bypassed",
    "warning": "Warnings: look before you run",
    "note": "Notes: worth knowing",
}


def page() -> str:
    """The whole page."""
    parts = [HEAD]
    for level, title in LEVELS.items():
        parts.append(
            f"\n## {title}\n\n| rule | what it looks for | what to do |\n| --- | --- | --- |"
        )
        found = sorted((r for r in RULES.values() if r.level == level), key=lambda r: r.name)
        for known in found:
            meaning, hint = (text.replace("|", "\\|") for text in (known.meaning, known.hint))
            parts.append(f"| `{known.name}` | {meaning} | {hint} |")
    return "\n".join(parts) + "\n"


if __name__ == "__main__":
    (ROOT / "docs" / "rules.md").write_text(page(), encoding="utf-8")
