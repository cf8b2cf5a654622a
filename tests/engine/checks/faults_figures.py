"""Faults for the rules on figures and on programs beside their record."""

from __future__ import annotations

from decimal import Decimal

from .conftest import ONE, Mini, sha
from .faults import FAULTS, fault

__all__ = ["FAULTS", "ONE", "hold_of", "with_program"]


def with_program(mini: Mini, *lines: str) -> None:
    """Give the first record another program, proved out."""
    text = "\n".join(["%", "N10 G21 G90", *lines, "N40 M30", "%", ""]).encode()
    mini.files["programs/cup_1.nc"] = text
    mini.one["program"]["sha256"] = sha(text)


def hold_of(mini: Mini, free: str) -> None:
    """Leave so much height free between jaws and fingers, of a blank of 30."""
    mini.one["blank"] = {"height": 30}
    mini.one["fingers"] = {"blank": {"bite": 30 - Decimal("7.5") - Decimal(free)}}


@fault("figure-does-not-fit", "jaws.bite")
def figure_does_not_fit(mini: Mini) -> None:
    hold_of(mini, "-0.5")


@fault("figure-tight", "jaws.bite")
def figure_tight(mini: Mini) -> None:
    mini.trees["book.toml"]["policy"]["free_height_least"] = 3
    hold_of(mini, "3.2")


@fault("figure-cannot-tell", "tray.across", only=False)
def figure_cannot_tell(mini: Mini) -> None:
    mini.also_incomplete = True
    mini.one["blank"] = {"height": 30}


@fault("cell-incomplete", "legs.out.via.lift", "cells/north", "cells/north.toml", only=False)
def cell_incomplete(mini: Mini) -> None:
    mini.also_incomplete = True


@fault("policy-incomplete", "policy.hold_safety", "book", "book.toml", only=False)
def policy_incomplete(mini: Mini) -> None:
    mini.also_incomplete = True


@fault("program-units", "program.file")
def program_units(mini: Mini) -> None:
    mini.one["record"]["units"] = "in"


@fault("tool-unlisted", "tools")
def tool_unlisted(mini: Mini) -> None:
    with_program(mini, "N20 T4 M6", "N30 S900 M3")


@fault("tool-unused", "tools.T07")
def tool_unused(mini: Mini) -> None:
    mini.one["tools"] = {"T07": {"what": "drill 5"}}


@fault("offset-unlisted", "offsets")
def offset_unlisted(mini: Mini) -> None:
    with_program(mini, "N20 G55", "N30 S900 M3")


@fault("program-travel", "program.file")
def program_travel(mini: Mini) -> None:
    linear = {"of": "machine", "kind": "linear", "unit": "mm", "least": 0, "most": 400}
    mini.cell["axes"]["head"] = {**linear, "letter": "Z"}
    with_program(mini, "N20 G53 G0 Z400.5")


@fault("program-faults", "program.file")
def program_faults(mini: Mini) -> None:
    with_program(mini, "N20 (half a comment", "N30 S900 M3")
