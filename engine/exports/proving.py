"""Last part of a sheet: stages to tick, what does not fit, what does not hold, notes.

A figure that does not fit, is tight, or cannot be told is on the paper; where
there are too many, their number is, and the command that shows them.
"""

from __future__ import annotations

from engine.exports.page import EDGE, ROOM, PaperPage
from engine.exports.paper import SetUp
from engine.exports.parts import caution, heading, tick
from engine.exports.values import GONE, worded
from engine.views.wording import figures as wording

_PROVE = "prove out slowly, and without a blank first."
_MOST_FIGURES, _MOST_FINDINGS, _MOST_NOTES = 10, 5, 8
_STAGES_ABREAST = 6
_WORD = 27.0  # mm, for a verdict or a level


def draw(page: PaperPage, set_up: SetUp) -> None:
    """Draw it."""
    _stages(page, set_up)
    _figures(page, set_up)
    _findings(page, set_up)
    _notes(page, set_up)


def _stages(page: PaperPage, set_up: SetUp) -> None:
    stages = [f"{worded(stage)} %" for stage in set_up.record.lot.stages or ()]
    steps = [*stages, "first piece", "last piece"] if stages else ["first piece", "last piece"]
    page.need(34)
    heading(page, "Proving out", _lot(set_up))
    page.y += caution(page, EDGE, page.y, _PROVE, ROOM) + 1
    if not stages:
        page.text(EDGE, page.y, "no stages are in the record: lot.stages", 10, "B")
        page.y += 6
    if "lot.stages" in set_up.pencil:
        inked = worded(set_up.inked.get("lot.stages")) or "nothing"
        words = f"stages are pencil: {worded(set_up.pencil['lot.stages']) or GONE}; inked: {inked}"
        page.text(EDGE, page.y, words, 10, "I", width=ROOM)
        page.y += 6
    wide = ROOM / min(max(len(steps), 4), _STAGES_ABREAST)
    for start in range(0, len(steps), _STAGES_ABREAST):
        page.need(15)
        for n, step in enumerate(steps[start : start + _STAGES_ABREAST]):
            x = EDGE + n * wide
            tick(page, x, page.y + 0.5, 6)
            page.text(x + 7.5, page.y, step, 12, "B", width=wide - 9)
            if start + n == 0 and stages:
                page.text(x + 7.5, page.y + 5, "without a blank", 8, "B", width=wide - 9)
            page.text(x, page.y + 8.6, "by", 8)
            page.rule(x + 4, page.y + 12, x + wide - 3, page.y + 12)
        page.y += 14.5


def _lot(set_up: SetUp) -> str:
    lot = set_up.record.lot
    said = (
        f"lot of {lot.quantity}" if lot.quantity is not None else "",
        f"{worded(lot.machining_seconds)} s machining" if lot.machining_seconds is not None else "",
        f"{lot.samples} samples" if lot.samples is not None else "",
    )
    return ", ".join(filter(None, said))


def _figures(page: PaperPage, set_up: SetUp) -> None:
    page.need(16)
    heading(page, "Figures to look at", ", ".join(wording.counted(set_up.figures)))
    found = wording.worst_first(set_up.figures)
    for figure in found[:_MOST_FIGURES]:
        page.need(5.4)
        verdict = figure.verdict.upper() if figure.verdict == "does not fit" else figure.verdict
        note = f"; {figure.note}" if figure.note else ""
        page.text(EDGE, page.y, verdict, 9.5, "B", width=_WORD - 1)
        words = f"{wording.figure_in_words(figure)}{note}"
        page.text(EDGE + _WORD, page.y, words, 9.5, width=ROOM - _WORD)
        page.y += 5.2
    _and_more(page, len(found) - _MOST_FIGURES, f"witnessmark figures {set_up.stamp.document}")
    _cannot_tell(page, set_up)
    page.y += 1


def _cannot_tell(page: PaperPage, set_up: SetUp) -> None:
    waiting = wording.waiting(set_up.figures)
    if not waiting:
        return
    names = ", ".join(dict.fromkeys(f.name for f in set_up.figures if f.verdict == "cannot tell"))
    page.need(16)
    page.text(EDGE, page.y, "cannot tell", 9.5, "B", width=_WORD - 1)
    words = f"Not known: {', '.join(waiting)}. For want of it: {names}."
    page.y += page.paragraph(EDGE + _WORD, page.y, words, 8.5, width=ROOM - _WORD, most=4) + 1


def _and_more(page: PaperPage, more: int, command: str) -> None:
    if more > 0:
        page.text(EDGE + _WORD, page.y, f"and {more} more: {command}", 9.5, "B", width=ROOM - _WORD)
        page.y += 5.2


def _findings(page: PaperPage, set_up: SetUp) -> None:
    if not set_up.findings:
        return
    page.need(16)
    heading(page, "Findings when printed", "")
    for finding in set_up.findings[:_MOST_FINDINGS]:
        page.need(13)
        page.text(EDGE, page.y, finding.level, 9.5, "B", width=_WORD - 1)
        words = f"{finding.address}: {finding.message}" if finding.address else finding.message
        page.y += page.paragraph(EDGE + _WORD, page.y, words, 9, width=ROOM - _WORD, most=3) + 1
    more = len(set_up.findings) - _MOST_FINDINGS
    _and_more(page, more, f"witnessmark check {set_up.stamp.document}")
    page.y += 1


def _notes(page: PaperPage, set_up: SetUp) -> None:
    text = set_up.record.notes.text
    if not text or not text.strip():
        return
    page.need(10 + page.tall(text.strip(), 10, width=ROOM, most=_MOST_NOTES))
    heading(page, "Notes", "pencil" if "notes.text" in set_up.pencil else "")
    page.y += page.paragraph(EDGE, page.y, text.strip(), 10, width=ROOM, most=_MOST_NOTES) + 2
