"""Typing in one line, and the table of keys."""

from tui.screens.editor import Editor
from tui.screens.editor.screen import ACTS
from tui.screens.listing import Listing
from tui.screens.marks import Marks
from tui.widgets.entry import MOST, Entry
from tui.widgets.keys import HELP, keys_row


def _typed(*keys: str, start: str = "") -> Entry:
    entry = Entry(start)
    for key in keys:
        entry.press(key, key if len(key) == 1 else None)
    return entry


def test_typing_and_moving():
    assert _typed("1", "2", "left", "3").text == "132"
    assert _typed("home", "x", start="ab").text == "xab"
    assert _typed("backspace", start="ab").text == "a"
    assert _typed("home", "delete", start="ab").text == "b"
    assert _typed("ctrl+u", "7", start="104.250").text == "7"
    assert _typed("home", "backspace", "left", start="a").text == "a"


def test_other_keys_mean_nothing():
    entry = Entry("a")
    assert not entry.press("f1", None)
    assert not entry.press("tab", "\t")
    assert entry.text == "a"


def test_there_is_a_most():
    entry = Entry()
    entry.insert("x" * (MOST + 5))
    assert len(entry.text) == MOST


def test_the_keys_line_keeps_help_and_its_width():
    row = keys_row((*Editor("x").KEYS, HELP), 80)
    text = "".join(piece for piece, _ in row)
    assert len(text) <= 80
    assert text.endswith("? help")
    narrow = "".join(piece for piece, _ in keys_row((*Editor("x").KEYS, HELP), 30))
    assert narrow.startswith("Enter change")
    assert narrow.endswith("? help")


def test_no_key_that_a_terminal_or_a_habit_takes():
    for page in (Editor, Listing, Marks):
        for each in page.KEYS:
            for press in each.press:
                assert not press.startswith(
                    ("f1", "ctrl+h", "ctrl+i", "ctrl+m", "ctrl+q", "insert")
                )


def test_every_key_in_the_table_does_something():
    for page in (Editor, Listing, Marks):
        acts = ACTS if page is Editor else {}
        for each in page.KEYS:
            if each.action and each.press:
                assert callable(acts.get(each.action) or getattr(page, f"do_{each.action}"))


def test_every_act_of_the_editor_has_a_key():
    actions = {each.action for each in Editor.KEYS}
    assert set(ACTS) - actions == {"help"}  # which has the key of every page
