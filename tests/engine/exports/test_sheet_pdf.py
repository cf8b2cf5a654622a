"""The set-up sheet, rendered by PDFium, its code read by ZXing.

What must stand on it and be kept with it: ISO 9001:2015 7.5.3 (revision,
obsolete copies marked) and IATF 16949 8.5.1.3 (each set-up verified), from
memory; the rest is what a shop hangs at a machine, common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PIL import Image

from engine.book import Book
from schemas.errors import Refused, UsageError
from tests.engine.exports import readers
from tests.mini_book import SEAT, SEAT_ID

Inked = Callable[..., Book]
HOIST = "positions.seat.lift"


def text_of(book: Book, at: str = "now", *, pencil: bool = False) -> str:
    return "\n".join(readers.page_texts(book.document(SEAT).papers.sheet(at, pencil=pencil).data))


def test_it_has_what_a_setter_needs(inked: Inked) -> None:
    pages = readers.page_texts(inked().document(SEAT).papers.sheet().data)
    assert len(pages) == 2
    for words in ("Seat", "operation 10", "Lathe", "seat-op10 · ink-2", "Jaws · C-31", "rack 4",
                  "71.6 to 72.4 mm", "31.5 mm", "29.8 mm", "7.5 mm", "17 bar", "V-12", "320 N",
                  "Tray · TP-72", "11 of 12 loaded; row by row, r1c1 near left", "96.0 mm", "r3c4",
                  "Not signed off", "Never read back", "lock out before changing",
                  "lock out before refilling", "no safety device"):  # fmt: skip
        assert words in pages[0], words
    for words in ("87.420", "612.350", "148.900", "210.000", "90.500", "tray: take, at r1c1",
                  "18.0", "55.0", "T04", "boring bar 16", "62.0", "G54", "-118.42", "15 %", "100 %",
                  "without a blank", "teach at reduced speed", "prove out slowly",
                  "Wipe the jaws first.", "no safety device", "page 2 of 2"):  # fmt: skip
        assert words in pages[1], words


def test_the_code_names_book_record_and_commit(inked: Inked) -> None:
    book = inked()
    paper = book.document(SEAT).papers.sheet()
    (said,) = readers.codes(readers.page_pictures(paper.data)[0])
    commit = book.document(SEAT).past.marks()[0].commit
    assert said.splitlines() == [
        "book little",
        f"record {SEAT_ID}",
        f"commit {commit}",
        f"witnessmark show {SEAT_ID} --at {commit[:16]}",
    ]
    assert (
        book.document(SEAT_ID).show(said.split()[-1]).commit == commit
    )  # what it says can be asked
    assert paper.name == f"seat-op10-{commit[:10]}.pdf"


def test_it_can_be_printed_in_black_and_white_with_margins(inked: Inked) -> None:
    for page in readers.page_pictures(inked().document(SEAT).papers.sheet().data, 75):
        assert isinstance(page, Image.Image)
        assert page.height / page.width == pytest.approx(297 / 210, abs=0.003)  # A4
        inner = page.crop((24, 24, page.width - 24, page.height - 24))  # 8 mm
        frame = page.copy()
        frame.paste(255, (24, 24, page.width - 24, page.height - 24))
        assert frame.getextrema() == (255, 255)
        assert inner.getextrema()[0] == 0


def test_pencil_is_refused_or_printed_as_pencil(inked: Inked) -> None:
    book = inked()
    book.document(SEAT).pencil.set_all(
        {HOIST: "149.250", "jaws.bite": "8.0", "tools.T09.what": "tap"}
    )
    with pytest.raises(Refused, match="3 values in pencil by Mira Falk") as refused:
        book.document(SEAT).papers.sheet()
    assert refused.value.exit_code == 3
    assert "--pencil" in refused.value.hint
    paper = book.document(SEAT).papers.sheet(pencil=True)
    text = "\n".join(readers.page_texts(paper.data))
    assert "3 values in pencil by Mira Falk, not inked" in text
    for ink, pencil in (("148.900", "pencil 149.250"), ("7.5 mm", "pencil 8.0 mm"),
                        ("T09", "pencil tap")):  # fmt: skip
        assert ink in text
        assert pencil in text
    assert paper.name.endswith("-pencil.pdf")
    (said,) = readers.codes(readers.page_pictures(paper.data)[0])
    assert "with pencil, not inked" in said


def test_my_pencil_is_no_matter_of_others_but_they_are_told(
    inked: Inked, at: Callable[[str], Book]
) -> None:
    inked().document(SEAT).pencil.set(HOIST, "149.250")
    text = text_of(at("ole"))
    assert "149.250" not in text
    assert "Others have pencil on this record, not in this file: Mira Falk (1)" in text


def test_an_old_mark_says_that_it_is_superseded(inked: Inked) -> None:
    book = inked()
    book.document(SEAT).pencil.set(HOIST, "149.250")
    book.document(SEAT).ink("taught higher")
    book.document(SEAT).pencil.set(HOIST, "150.000")
    old = book.document(SEAT).papers.sheet("ink-2")
    assert old.superseded.startswith("superseded by ink-3")
    pages = readers.page_texts(old.data)
    assert all("Superseded by ink-3" in page for page in pages)
    assert "148.900" in pages[1]
    assert "149.250" not in pages[1]
    with pytest.raises(UsageError, match="not on an older mark"):
        book.document(SEAT).papers.sheet("ink-2", pencil=True)
    book.document(SEAT).pencil.rub_out()
    assert book.document(SEAT).papers.sheet().superseded == ""
    book.document(SEAT).restore("ink-2", HOIST, "back to what ran")
    assert (
        book.document(SEAT).papers.sheet("ink-2").superseded == ""
    )  # the same text is current again


def test_sign_off_and_confirmation_are_told(inked: Inked, at: Callable[[str], Book]) -> None:
    book, lead = inked(), at("ole")
    lead.document(SEAT).sign_off("first piece good")
    book.document(SEAT).runs.start()
    book.document(SEAT).runs.confirm()
    text = text_of(book)
    assert "Signed off by Ole Brandt, 2026-03-02" in text
    assert "Read back at the machine by Mira Falk, 2026-03-02" in text
    book.document(SEAT).pencil.set(HOIST, "149.250")
    book.document(SEAT).ink("taught higher")
    text = text_of(book)
    assert "Not signed off: the sign-off by Ole Brandt, 2026-03-02 is void" in text
    assert "Not read back at the machine as it is here" in text
    assert "Read back at the machine by Mira Falk" in text_of(book, "ink-2")


def test_figures_that_do_not_fit_or_cannot_be_told(inked: Inked) -> None:
    book = inked(record={"jaws.bite": "20", "blank.height": "30"})  # and the fingers bite 11
    bad = [f for f in book.document(SEAT).figures.all() if f.verdict == "does not fit"]
    text = text_of(book)
    assert "cannot tell" in text
    assert "Not known:" in text
    assert text.count("DOES NOT FIT") == len(bad) > 0
    for figure in bad:
        assert figure.name in text


def test_a_bare_record_gives_a_sheet_that_says_what_is_missing(at: Callable[[str], Book]) -> None:
    book = at("mira")
    book.new("bare", part="Bare", cell="lathe", units="mm")
    text = "\n".join(readers.page_texts(book.document("bare").papers.sheet().data))
    assert "The order over the tray cannot be drawn without" in text
    assert "no photo in the record" in text
    assert "not taught" in text
    assert "no stages are in the record" in text


def test_the_scheme_of_a_tray_without_sizes(inked: Inked) -> None:
    book = inked()
    book.document(SEAT).pencil.clear("tray.plate_across")
    book.document(SEAT).ink("not measured")
    text = text_of(book)
    assert "not to scale: without tray.plate_across" in text
    assert "11 of 12 loaded" in text


def test_lists_are_no_spans(inked: Inked) -> None:
    text = text_of(inked(record={"tray.unused": "r1c1,r3c4", "lot.stages": "50,100"}))
    assert "r1c1, r3c4" in text
    assert "10 of 12 loaded" in text
    assert "71.6 to 72.4 mm" in text


NASTY = "漢字 Łódź {nb} %% </b> \\n @@ אב 🔩"


def test_foreign_text_is_drawn_or_replaced_visibly(inked: Inked) -> None:
    book = inked(record={"record.part": NASTY, "notes.text": f"first\n{NASTY}\tend",
                         "jaws.id": NASTY, "tools.T04.what": "é" * 390})  # fmt: skip
    paper = book.document(SEAT).papers.sheet()
    text = "\n".join(readers.page_texts(paper.data))
    assert "[U+6F22][U+5B57] Łódź {nb} %% </b> \\n @@ [U+05D0][U+05D1] [U+1F529]" in text
    assert "first" in text


def test_nothing_is_left_out_of_a_large_record(inked: Inked) -> None:
    tools = {f"tools.T{n:02}.what": f"tool number {n}" for n in range(1, 61)}
    text = text_of(inked(record={**tools, "notes.text": "\n".join(["word " * 30] * 60)}))
    for n in range(1, 61):
        assert f"tool number {n}" in text
    assert "more lines: the record" in text
    assert "page 4 of 4" in text or "page 3 of 3" in text


def test_long_numbers_are_never_cut(inked: Inked) -> None:
    long = "123456789.123456789012"
    text = text_of(inked(record={HOIST: long, "jaws.bite": long, "blank.height": long,
                                 "approach.seat.length": long, "offsets.G54.z": long}))  # fmt: skip
    assert text.count(long) >= 5


def test_only_records_have_sheets(at: Callable[[str], Book]) -> None:
    with pytest.raises(UsageError, match="no record"):
        at("ole").document("cells/lathe").papers.sheet()
    with pytest.raises(UsageError, match="no mark"):
        at("ole").document(SEAT).papers.sheet("ink-99")


DENSE = {"tray.across": "20", "tray.along": "6", "tray.pitch_across": "19",
         "tray.first_across": "20", "tray.pitch_along": "45", "tray.first_along": "30",
         "tray.pocket_size": "15", "tray.unused": "r6c20,r6c19"}  # fmt: skip


@pytest.mark.parametrize(
    ("path", "ends"),
    [
        ("row by row", "1 20 21 40 101 118"),
        ("rows back and forth", "1 20 21 40 101 118"),
        ("column by column", "1 6 114 118"),
        ("columns back and forth", "1 6 114 118"),
    ],
)
def test_many_small_pockets_get_their_turns_at_the_ends_of_lines(
    inked: Inked, path: str, ends: str
) -> None:
    text = text_of(inked(cell={"bed.path": path}, record=DENSE))
    assert f"118 of 120 loaded; {path}" in text
    lines = text.split()
    for turn in ends.split():
        assert turn in lines
