"""What is installed is what was locked: by hash, within what pyproject.toml allows, from no named
host.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
RUN, TEST = "requirements.lock", "requirements-test.lock"
PYTHONS = ("3.11", "3.12", "3.13")


def asked(*extras: str) -> list[Requirement]:
    """What pyproject.toml asks for: to run, to build, and by extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    words = [*project["project"]["dependencies"], *project["dependency-groups"]["build"]]
    for extra in extras:
        words += project["project"]["optional-dependencies"][extra]
    return [Requirement(word) for word in words]


def locked(file: str) -> dict[str, list[tuple[Requirement, int]]]:
    """What a lock names, by name, with the number of its hashes."""
    text = (ROOT / file).read_text().replace("\\\n", " ")
    found: dict[str, list[tuple[Requirement, int]]] = {}
    for line in text.splitlines():
        if line.strip() and not line.lstrip().startswith("#"):
            named, *hashes = re.split(r"\s+--hash=sha256:", line.strip())
            assert all(re.fullmatch(r"[0-9a-f]{64}", one) for one in hashes), line
            one = Requirement(named)
            found.setdefault(canonicalize_name(one.name), []).append((one, len(hashes)))
    return found


@pytest.mark.parametrize("python", PYTHONS)
@pytest.mark.parametrize(("file", "extras"), [(RUN, ()), (TEST, ("test",))])
def test_each_dependency_is_locked_once_within_its_bounds(
    file: str, extras: tuple[str, ...], python: str
) -> None:
    there = locked(file)
    where = {"python_version": python, "python_full_version": f"{python}.0"}
    for wanted in asked(*extras):
        pinned = [
            one
            for one, _ in there.get(canonicalize_name(wanted.name), [])
            if one.marker is None or one.marker.evaluate(where)
        ]
        assert len(pinned) == 1, f"{wanted} in {file} for Python {python}"
        (only,) = pinned[0].specifier
        assert only.operator == "=="
        assert wanted.specifier.contains(only.version), f"{file} has {pinned[0]}, not {wanted}"


@pytest.mark.parametrize("file", [RUN, TEST])
def test_everything_has_hashes_and_nothing_names_a_place(file: str) -> None:
    assert all(hashes for each in locked(file).values() for _, hashes in each)
    text = (ROOT / file).read_text()
    assert not re.search(r"://|--(extra-)?index|--find-links|(?<!\w)/(?!\s)\w", text)


def test_what_runs_is_tested_as_it_is_locked() -> None:
    tested = locked(TEST)
    for name, pins in locked(RUN).items():
        assert [str(one) for one, _ in pins] == [str(one) for one, _ in tested[name]]


def test_the_readme_installs_from_the_locks_only() -> None:
    blocks = re.findall(
        r"<!-- ci: \w+ -->\n```sh\n(.*?)```", (ROOT / "README.md").read_text(), re.S
    )
    installs = [part for block in blocks for part in block.split("&&") if "pip install" in part]
    assert len(installs) == 4
    assert all("--require-hashes" in part or "--no-deps" in part for part in installs)
