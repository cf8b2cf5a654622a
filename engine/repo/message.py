"""The message of a commit: a readable subject, what changed, and trailers.

Only the last paragraph holds trailers, and a reason is folded so that each of
its further lines starts with a space: no reason and no value can forge one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

_TRAILER = re.compile(r"([A-Z][A-Za-z-]*): (.*)")
_LONGEST_SUBJECT = 100


def compose(subject: str, body: Sequence[str], trailers: Mapping[str, str]) -> str:
    """The text of a message; empty trailers are left out."""
    if len(subject) > _LONGEST_SUBJECT:
        subject = subject[: _LONGEST_SUBJECT - 1].rstrip() + "…"
    last = [f"{key}: {_folded(value)}" for key, value in trailers.items() if value.strip()]
    parts = [
        subject.replace("\n", " "),
        "\n".join(_one_line(line) for line in body),
        "\n".join(last),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _folded(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return "\n ".join(lines)


def trailers_of(message: str) -> dict[str, str]:
    """The trailers of a message; none where its last paragraph is anything else."""
    paragraph = message.rstrip("\n").rpartition("\n\n")[2]
    found: dict[str, str] = {}
    last = ""
    for line in paragraph.split("\n"):
        match = _TRAILER.fullmatch(line)
        if match and match[1] not in found:
            last = match[1]
            found[last] = match[2]
        elif line.startswith(" ") and last:
            found[last] += "\n" + line[1:]
        else:
            return {}
    return found


def subject_of(message: str) -> str:
    """The first line."""
    return message.partition("\n")[0]


def body_of(message: str) -> list[str]:
    """The lines between subject and trailers."""
    paragraphs = message.rstrip("\n").split("\n\n")[1:]
    if paragraphs and trailers_of(message):
        paragraphs.pop()
    return [line for paragraph in paragraphs for line in paragraph.split("\n") if line]
