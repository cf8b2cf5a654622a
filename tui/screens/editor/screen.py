"""The editor of a record, a cell, the people or the policy: both values of everything.

Invariant: leaving asks nothing, since pencil stays where it is. Each key does
what its line in KEYS says, by one call of the engine or one page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from engine.views.wording import SIGNED, confirmed_words, is_record, run_words
from schemas.errors import WitnessmarkError
from tui.screens.editor import adding, moving, pages, pencil, typing_value
from tui.screens.editor.columns import head_row
from tui.screens.editor.document import EditedDocument
from tui.screens.editor.judgement import Judgement
from tui.screens.editor.wording import joined, pencil_here, pencil_words, urgent_words
from tui.screens.notice import Notice
from tui.screens.subject import AboutOne, Subject
from tui.widgets.echo import Typed
from tui.widgets.finder import FIND, Finding
from tui.widgets.keys import PageKey, key
from tui.widgets.page import Page
from tui.widgets.painted import Bar

_DECIDE = key("d", "decide", "decide on contested pencil", "decide")
_DISK = key("o", "on disk", "decide on what was found on disk", "on_disk")

# What a key does by its name in the table of keys. Acts take the document, not the screen.
ACTS: dict[str, Callable[[EditedDocument], None]] = {
    "change": typing_value.change,
    "add": adding.add,
    "next_section": moving.next_section,
    "last_section": moving.last_section,
    "last_change": moving.last_change,
    "undo": pencil.undo,
    "redo": pencil.redo,
    "take_out": pencil.take_out,
    "rub_out": pencil.rub_out,
    "bring_back": pencil.bring_back,
    "decide": pencil.decide,
    "on_disk": pencil.on_disk,
    "ink": pages.ink,
    "figures": pages.figures,
    "compare": pages.compare,
    "trace": pages.trace,
    "findings": pages.findings,
    "runs": pages.runs,
    "marks": pages.marks,
    "copy": pages.copy,
    "help": pages.help_here,
}


class Editor(AboutOne, Page):
    """One document. Its answer is nothing: what was done is in the book already."""

    KEYS = (
        key("Enter", "change", "change the value: type it, Enter puts it in pencil", "change"),
        key("Tab", "section", "to the next section or station", "next_section"),
        FIND,
        key("i", "ink", "save the pencil with a reason", "ink"),
        key("g", "figures", "figures: margins, tray, round, bites, agreement, fills", "figures"),
        key("u", "undo", "undo the last thing done to your pencil, and name it", "undo"),
        key("c", "compare", "compare with the last run, the sign-off, a mark", "compare"),
        key("t", "trace", "the life of this value: who, when, why", "trace"),
        key("Shift+Tab", "", "to the section or station before", "last_section"),
        key("0-9", "", "on a number: type a new one at once", ""),
        key("r", "redo", "do again what was undone", "redo"),
        key("x", "", "take the value out, in pencil", "take_out"),
        key("e", "", "rub out pencil: this value or all; asks first", "rub_out"),
        key("b", "", "bring back what was rubbed out", "bring_back"),
        key("l", "", "to the last change; again: to the one before", "last_change"),
        key("f", "", "findings of this record", "findings"),
        key("n", "runs", "runs: start, confirm, prove-out, refill, stop; their log", "runs"),
        key("m", "", "marks: every ink, run and sign-off; restore", "marks"),
        key("a", "", "add a value by its address: tools.T05.what", "add"),
        key("d", "", "decide on contested pencil", "decide"),
        key("o", "", "decide on what was found on disk", "on_disk"),
        key("y", "", "copy the value, where the terminal allows it", "copy"),
    )

    def __init__(self, name: str, address: str = "", key: str = "") -> None:
        super().__init__()
        self.subject = Subject(name, key)
        self.finder = Finding(self, self._list_anew)
        self.document = EditedDocument(
            self, self.subject, address, self.finder, self._pencil_changed
        )
        self.judgement = Judgement(self, self.subject)

    def below(self) -> Iterable[Bar]:
        """What the pencil does to the figures."""
        self.figures_bar = Bar(self.bench.paint, id="figures")
        self.figures_bar.display = is_record(self.name_of_record)
        yield self.figures_bar

    # Loading

    def load(self) -> None:
        """Values and pencil first; what takes longer afterwards."""
        self.ask_to_show(f"opening {self.name_of_record}", self.document.asked, self.document.show)
        self.judgement.load()

    def cannot_load(self, error: WitnessmarkError) -> None:
        """What cannot be read is told in full, on the page that one came from.

        What was open already stays, with all that is being typed.
        """
        if self.document.contents is not None:
            self.document.lose(error)
            return
        self.dismiss(None)
        self.app.push_screen(Notice.of_error(error))

    def _list_anew(self) -> None:
        self.document.redraw()
        self.chosen()

    def _pencil_changed(self) -> None:
        self._show_about()
        self.judgement.work_out()

    # What stands around the list

    def show_frame(self) -> None:
        """Title, state, headings and keys."""
        super().show_frame()
        width = self.app.size.width
        self.head.say(*head_row(width))
        self.figures_bar.say(*self.judgement.figures_row(width))
        self._show_about()

    def heading(self) -> str:
        """The record and its part."""
        listed = self.judgement.listed
        return f"{self.name_of_record}   {listed.part}" if listed else self.name_of_record

    def heading_right(self) -> tuple[str, ...]:
        """How the record stands, and who is here."""
        me, listed = super().heading_right(), self.judgement.listed
        if listed is None:
            return me
        run = run_words(listed.last_run, self.bench.clock())
        return (f"{run}, {SIGNED[listed.signed_off]}   {''.join(me)}",)

    def _show_about(self) -> None:
        """One line about the whole: what to decide, what does not fit, whose pencil."""
        contents, listed = self.document.contents, self.judgement.listed
        if contents is None:
            return
        me, now, width = self.bench.me.key, self.bench.clock(), self.app.size.width
        words = urgent_words(self.document, self.judgement.findings, self.judgement.past)
        if listed is not None:
            words.append((confirmed_words(listed.confirmed), ""))
        words += pencil_words(contents.drafts, me, now, width)  # last: the lines say it, too
        self.about.say((" ", ""), *joined(words))

    def chosen(self) -> None:
        """Say more about the chosen value: its address, and whose pencil there is."""
        each = self.document.current()
        if each is None:
            self.detail.say()
            return
        words = pencil_here(each, self.bench.me.key, self.bench.clock())
        self.detail.say((f" {each.address}  ", ""), *joined(words))

    # Keys

    def live_keys(self) -> tuple[PageKey, ...]:
        """What has to be decided comes first."""
        usual, contents = super().live_keys(), self.document.contents
        if contents is not None and contents.disk is not None:
            return (_DISK, *usual)
        return (_DECIDE, *usual) if self.document.contested() else usual

    def take(self, typed: Typed) -> None:
        """Do what a key does; then say what is still to be said of the document."""
        super().take(typed)
        if self.mode is None:
            self.document.say_news()

    def do_key(self, pressed: str, character: str | None) -> None:
        """A digit on a number begins a new one at once."""
        if self.mode is not None or not typing_value.begin_at_once(self.document, character):
            super().do_key(pressed, character)

    def perform(self, action: str) -> None:
        """What the keys of every page do is the page's; the rest is done to the document."""
        if action in ACTS:
            ACTS[action](self.document)
        else:
            super().perform(action)

    def do_find(self) -> None:
        """Begin to type words."""
        self.finder.begin()

    def do_back(self) -> None:
        """Esc shows everything first, and then goes back."""
        if not self.finder.clear():
            self.dismiss(None)
