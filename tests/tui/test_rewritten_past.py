"""A rewritten past by command and on screen: told as an error until a lead acknowledges it."""

from __future__ import annotations

import json

from tests.demo_book import LEAD
from tests.mini_book import SEAT, plain_git
from tests.tui.fake_book import on_stage


def amend(folder):
    plain_git(folder, "commit", "-q", "--amend", "--allow-empty", "-m", "as if nothing had been")


def test_check_and_list_say_it_in_each_form_until_it_is_acknowledged(command, little):
    assert command(little, "mira", "set", SEAT, "lot.quantity=5", "--ink")[0] == 0
    tip = plain_git(little, "rev-parse", "HEAD").strip()
    amend(little)
    for _ in range(2):
        for words in (("check",), ("check", SEAT)):
            status, out, _ = command(little, "mira", *words)
            assert (status, "past-rewritten" in out or "was rewritten" in out) == (1, True)
        status, out, said = command(little, "mira", "list")
        assert (status, SEAT in out) == (0, True)
        assert f"error: the past was rewritten: {tip[:10]}" in said
        (item,) = json.loads(command(little, "ada", "list", "--format", "json")[1])["past"]
        assert (item["rule"], item["level"]) == ("past-rewritten", "error")
        assert tip in item["hint"]
        found = json.loads(command(little, "ada", "check", SEAT, "--format", "json")[1])["items"]
        assert "past-rewritten" in [each["rule"] for each in found]
    assert command(little, "mira", "acknowledge", "--reason", "mine")[0] == 3
    assert command(little, "ole", "acknowledge", tip[:8])[0] == 3
    assert command(little, "ole", "acknowledge", "abcdef12", "--reason", "x")[0] == 2
    assert command(little, "ole", "acknowledge", tip[:8], "--reason", "a slip")[0] == 0
    status, _, said = command(little, "mira", "list")
    assert "rewritten" not in said
    assert json.loads(command(little, "mira", "list", "--format", "json")[1])["past"] == []


async def test_the_list_and_the_editor_say_it_and_a_lead_acknowledges_it(folder, clock):
    plain_git(folder, "config", "user.name", "By Hand")
    async with on_stage(folder, clock) as stage:
        assert "rewritten" not in stage.text()
    amend(folder)
    async with on_stage(folder, clock) as stage:
        await stage.open()
        assert "! the past was rewritten" in stage.page.about.text
        await stage.press("escape")
        assert "! the past was rewritten: k" in stage.page.about.text
        await stage.press("k")
        assert "git merge lost-" in stage.text().replace("\n", " ")
        await stage.press("enter")
        assert "A reason is needed" in stage.text()
        await stage.type("a slip")
        await stage.press("enter")
        assert "is no lead" in stage.text()
    async with on_stage(folder, clock, LEAD) as stage:
        await stage.press("k")
        await stage.type("a slip")
        await stage.press("enter")
        assert "rewritten" not in stage.page.about.text
    saved = plain_git(folder, "log", "-1", "--format=%an %B")
    assert "Reason: a slip" in saved
    assert "Kind: acknowledge" in saved
