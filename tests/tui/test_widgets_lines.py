"""The virtual list chooses one item, keeps it in view and repaints no more than it must."""

from collections.abc import AsyncIterator

import pytest
from textual.app import App, ComposeResult
from textual.geometry import Region

from tui.widgets.lines import Item, Lines, fixed
from tui.widgets.paint import Paint


class _Listed(Lines):
    """A list that counts what it has painted."""

    painted: list[int]

    def refresh(self, *regions: Region, **kwargs):  # type: ignore[no-untyped-def]
        if regions:
            self.painted = [*getattr(self, "painted", []), *(region.y for region in regions)]
        return super().refresh(*regions, **kwargs)


class _App(App[None]):
    def compose(self) -> ComposeResult:
        self.lines = _Listed(Paint())
        yield self.lines


def _items(number: int) -> list[Item]:
    head = [fixed("head", (("head", ""),), heading=True)]
    return head + [fixed(n, ((f" line {n}", ""),)) for n in range(number)]


@pytest.fixture
async def lines() -> AsyncIterator[_Listed]:
    app = _App()
    async with app.run_test(size=(40, 10)) as pilot:
        app.lines.show(_items(50))
        await pilot.pause()
        app.lines.painted = []
        yield app.lines


def _in_view(lines: Lines) -> bool:
    return any(chosen for _, chosen in lines.window())


async def test_headings_are_never_chosen(lines: _Listed):
    assert lines.key == 0
    lines.step(-1)
    assert lines.key == 0


async def test_one_step_repaints_two_lines(lines: _Listed):
    lines.step(1)
    assert lines.key == 1
    assert sorted(lines.painted) == [1, 2]


async def test_the_chosen_one_stays_in_view(lines: _Listed):
    for _ in range(49):
        lines.step(1)
        assert _in_view(lines)
    assert lines.key == 49
    lines.page(-1)
    assert _in_view(lines)
    lines.ends(last=False)
    assert lines.key == 0
    assert _in_view(lines)


async def test_showing_anew_keeps_what_was_chosen(lines: _Listed):
    lines.choose(30)
    lines.show(_items(40))
    assert lines.key == 30
    lines.show(_items(10))
    assert lines.key == 9
    assert _in_view(lines)


async def test_showing_the_same_repaints_nothing(lines: _Listed):
    lines.show(_items(50))
    assert lines.painted == []


async def test_lines_pushed_under_the_chosen_one_are_in_view(lines: _Listed):
    lines.choose(8)
    lines.push_under([(("refused", ""),), (("because", ""),)])
    assert "refused" in lines.text()
    assert "because" in lines.text()
    lines.step(1)
    assert "refused" not in lines.text()


async def test_text_without_anything_to_choose_scrolls(lines: _Listed):
    lines.show([fixed(f"p{n}", ((f"text {n}", ""),), heading=True) for n in range(30)])
    assert lines.key is None
    lines.step(1)
    assert lines.text().startswith("text 1")
    lines.page(1)
    assert "text 9" in lines.text()


async def test_an_empty_list_bears_every_key(lines: _Listed):
    lines.show([])
    lines.step(1)
    lines.page(1)
    lines.ends(last=True)
    assert lines.key is None
