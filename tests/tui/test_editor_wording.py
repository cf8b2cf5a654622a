"""The lines around the editor's list: whose pencil, and what follows from a value."""

from datetime import UTC, datetime

from engine.views import Draft, Who
from schemas.fields import Described
from tui.screens.editor.contents import Field
from tui.screens.editor.wording import explained, pencil_words

NOW = datetime(2026, 3, 2, 7, 15, tzinfo=UTC)


def _draft(key: str, name: str) -> Draft:
    return Draft("seat-op10", Who(key, name), datetime(2026, 3, 2, 4, 15, tzinfo=UTC), ())


def test_my_pencil_stands_first_where_a_narrow_line_is_cut():
    drafts = [_draft("ira", "Ira Venn"), _draft("mira", "Mira Sol")]
    words = [text for text, _ in pencil_words(drafts, "mira", NOW, 80)]
    assert words == ["pencil: you, 0 values, 3 h old", "Ira, 0 values, 3 h old"]
    styles = [style for _, style in pencil_words(drafts, "mira", NOW, 80)]
    assert styles == ["pencil", "theirs"]


def test_without_a_person_nobody_is_first():
    drafts = [_draft("ira", "Ira Venn"), _draft("mira", "Mira Sol")]
    words = [text for text, _ in pencil_words(drafts, "", NOW, 160)]
    assert [text.split(",")[0] for text in words] == ["pencil: Ira Venn", "Mira Sol"]


def test_a_figure_that_stands_at_several_places_is_named_once():
    here = Field("positions.seat.lift", "lift", "mm", "number", None)
    known = Described("positions.seat.lift", "taught positions", "mm", "number", (), None)
    texts = [text for text, _ in explained(here, known, ["leg time", "cycle", "leg time"], NOW)]
    assert "Figures that follow from it: leg time, cycle" in texts
