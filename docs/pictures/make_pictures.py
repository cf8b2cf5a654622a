"""Makes the pictures of the screens, as SVG and PNG, from the demo book.

    python docs/pictures/make_pictures.py

The clock stands still, in the zone of the invented shop, and the past is always the
same, so that a picture changes only where a screen does. PNG files need `rsvg-convert`.
"""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from PIL import Image

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1]))

from engine.book import Book  # noqa: E402
from tests.demo_book import NOON, RECORD, started  # noqa: E402
from tests.shop_floor import Clock, plain_git  # noqa: E402
from tests.tui.fake_book import Stage  # noqa: E402
from tui.app import WitnessmarkApp  # noqa: E402
from tui.widgets.paint import Paint  # noqa: E402

os.environ["TZ"] = "CET-1CEST,M3.5.0,M10.5.0/3"  # where the demo is written
time.tzset()

NARROW, WIDE = (80, 24), (160, 48)

# name, size, keys; every picture starts at the list of records
SHOTS: tuple[tuple[str, tuple[int, int], Sequence[str]], ...] = (
    ("list", NARROW, ()),
    ("list-wide", WIDE, ()),
    ("editor", NARROW, ("OPEN", "GOTO positions.seat.lift")),
    ("editor-wide", WIDE, ("OPEN", "GOTO positions.seat.lift")),
    ("typing", NARROW, ("OPEN", "GOTO positions.seat.lift", "TYPE 303.8", "TYPE ,")),
    ("refused", NARROW, ("OPEN", "GOTO positions.seat.lift", "TYPE 303,8", "enter")),
    ("choosing", NARROW, ("OPEN", "GOTO jaws.release", "enter")),
    ("contested", NARROW, ("OPEN OTHER", "d")),
    ("ink", NARROW, ("OPEN", "i", "TYPE jaws bored again, seat taught anew")),
    ("ink-figures", NARROW, ("OPEN", "GOTO jaws.bite", "TYPE 32.5", "enter", "i")),
    ("editor-figures", NARROW, ("OPEN", "GOTO jaws.bite", "TYPE 32.5", "enter")),
    ("figures", NARROW, ("OPEN", "GOTO jaws.bite", "TYPE 32.5", "enter", "g")),
    ("figures-wide", WIDE, ("OPEN", "GOTO jaws.bite", "TYPE 32.5", "enter", "g")),
    ("figure", NARROW, ("OPEN", "GOTO jaws.bite", "TYPE 32.5", "enter", "g", "enter")),
    ("tray", NARROW, ("OPEN", "g", "t")),
    ("tray-wide", WIDE, ("OPEN", "g", "t")),
    ("round", NARROW, ("OPEN", "g", "r")),
    ("round-first", NARROW, ("OPEN", "g", "r", "n", "s")),
    ("bites", NARROW, ("OPEN", "g", "b")),
    ("agreement", NARROW, ("OPEN", "g", "a")),
    ("fills", NARROW, ("OPEN", "g", "f")),
    ("runs", NARROW, ("OPEN", "n")),
    ("confirm", NARROW, ("OPEN", "n", "s", "enter", "c")),
    ("help", NARROW, ("OPEN", "GOTO jaws.release", "question_mark")),
    ("help-find", NARROW, ("OPEN", "question_mark", "TYPE clamp")),
    ("what-to-compare", NARROW, ("OPEN", "c")),
    ("compare", NARROW, ("OPEN", "c", "r")),
    ("compare-wide", WIDE, ("OPEN", "c", "r")),
    ("trace", NARROW, ("OPEN", "GOTO positions.seat.lift", "t")),
    ("trace-position", NARROW, ("OPEN", "GOTO positions.seat.lift", "t", "w")),
    ("findings", NARROW, ("f",)),
    ("marks", NARROW, ("OPEN", "m")),
    ("restore", NARROW, ("OPEN", "GOTO positions.seat.lift", "m", "down", "down", "v")),
    ("rub-out", NARROW, ("OPEN", "GOTO positions.seat.lift", "e")),
    ("on-disk", NARROW, ("OPEN DISK", "o")),
    ("leaving", NARROW, ("q",)),
    ("who", NARROW, ()),
    ("taken-out", NARROW, ("t",)),
    ("bring-back", NARROW, ("t", "v", "TYPE the lot comes again")),
    ("acknowledge", NARROW, ("k", "TYPE the lot was never run")),
)
DISK, OTHER = "gland-nut-op10", "guide-bush-op10"


def prepare(folder: Path, clock: Clock) -> None:
    """Pencil of two people, a contested one, and a file changed by hand."""
    started(folder, clock)
    lead = Book.open(folder, login="itob", clock=clock)
    setter = Book.open(folder, login="mosk", clock=clock)
    clock.go(hours=-3)
    box = {"people.ifeoma.logins": "itob, shopfloor", "people.mirela.logins": "mosk, shopfloor"}
    lead.document("people").pencil.set_all(box)
    lead.document("people").ink("both use the box between the cells")
    lead.document(RECORD).pencil.set("lot.quantity", "140")
    lead.document(RECORD).pencil.set("positions.collect.lift", "302.500")
    setter.document(OTHER).pencil.set("jaws.bite", "8.0")
    clock.go(hours=2)
    lead.document(OTHER).pencil.set("jaws.bite", "7.5")
    lead.document(OTHER).ink("measured with the new soft jaws")
    clock.go(minutes=51)
    setter.document(RECORD).pencil.set("positions.seat.lift", "303.790")
    setter.document(RECORD).pencil.set("jaws.bite", "9.2")
    setter.document(RECORD).pencil.set("blow_off.seconds", "1.8")
    clock.go(minutes=9)
    lead.event("east-lathe", "vice off", "chuck taken off for a new seal")
    (folder / "photos" / "hook_ff21.jpg").unlink()
    path = folder / "records" / f"{DISK}.toml"
    path.write_text(path.read_text().replace("friction = 0.1", "friction = 0.2", 1))
    lead.close()
    setter.close()


def take_out(folder: Path, clock: Clock) -> None:
    """A colleague takes a record out by hand."""
    plain_git(folder, "rm", "-q", "--cached", f"records/{OTHER}.toml", when=clock())
    (folder / "records" / f"{OTHER}.toml").unlink()
    plain_git(folder, "commit", "-qm", "no more of these", when=clock())


def rewrite(folder: Path, clock: Clock) -> None:
    """A colleague takes the last saves out of the past by hand."""
    Book.open(folder, login="itob", clock=clock).close()  # this box knows them
    plain_git(folder, "reset", "-q", "--soft", "HEAD~2")
    plain_git(folder, "commit", "-qm", "tidied", when=clock())


BEFORE = {"taken-out": take_out, "bring-back": take_out, "acknowledge": rewrite}
LOGINS = {"who": "shopfloor", "acknowledge": "itob"}  # else the setter's


async def shoot(
    folder: Path, clock: Clock, name: str, size: tuple[int, int], keys: Sequence[str]
) -> None:
    """Play the keys and keep what is on the screen."""
    login = LOGINS.get(name, "mosk")
    app = WitnessmarkApp(
        lambda person: Book.open(folder, as_person=person, login=login, clock=clock),
        clock=clock,
        paint=Paint(colours=True),
    )
    async with app.run_test(size=size) as pilot:
        stage = Stage(app, pilot)
        await stage.settle()
        for key in keys:
            word, _, rest = key.partition(" ")
            if word == "OPEN":
                stage.page.lines.choose({"": RECORD, "DISK": DISK, "OTHER": OTHER}[rest])
                await stage.press("enter")
            elif word == "GOTO":
                stage.page.document.goto(rest)
            elif word == "TYPE":
                await stage.type(rest)
            else:
                await stage.press(key)
            await stage.settle()
        svg = app.export_screenshot(title="Witnessmark", simplify=True)
    (HERE / f"{name}.svg").write_text(_tidied(svg), encoding="utf-8")


def _tidied(svg: str) -> str:
    """Without fonts from elsewhere, and with spaces as places: converters drop leading ones."""
    svg = re.sub(r"@font-face \{.*?\}\s*", "", svg, flags=re.DOTALL)
    svg = re.sub(r"terminal-\d+-", "wm-", svg)
    svg = svg.replace("Fira Code, monospace", "DejaVu Sans Mono, monospace")
    svg = svg.replace("font-size: 20px", "font-size: 20.26px")  # as wide as a cell is
    return _TEXT.sub(_placed, svg)


_TEXT = re.compile(
    r'<text class="([^"]+)" x="([\d.]+)" y="([\d.]+)" textLength="([\d.]+)"([^>]*)>([^<]*)</text>'
)
_CELL = 12.2


def _placed(found: re.Match[str]) -> str:
    style, x, y, length, rest, text = found.groups()
    bare = text.lstrip("\n")
    ahead = (len(bare) - len(re.sub(r"^(&#160;)+", "", bare))) // 6
    behind = (len(bare) - len(re.sub(r"(&#160;)+$", "", bare))) // 6
    words = re.sub(r"^(&#160;)+|(&#160;)+$", "", bare)
    if not words:
        return ""
    left, room = float(x) + ahead * _CELL, float(length) - (ahead + behind) * _CELL
    return (
        f'<text class="{style}" x="{left:.1f}" y="{y}" textLength="{room:.1f}"{rest}>{words}</text>'
    )


def to_png(name: str) -> None:
    """The same as PNG, in few colours and so a few kilobytes; the SVG is only the way there."""
    converter = shutil.which("rsvg-convert")
    if not converter:
        return
    source, target = HERE / f"{name}.svg", HERE / f"{name}.png"
    subprocess.run([converter, "-o", str(target), str(source)], check=True)
    with Image.open(target) as picture:
        picture.convert("RGB").quantize(48).save(target, optimize=True)
    source.unlink()


def main(wanted: Sequence[str]) -> None:
    """All pictures, or those named."""
    with tempfile.TemporaryDirectory() as scratch:
        clock = Clock(NOON)
        folder = Path(scratch) / "book"
        prepare(folder, clock)
        for number, (name, size, keys) in enumerate(SHOTS):
            if not wanted or name in wanted:  # each on its own copy: one picture inks or pencils
                mine = Path(scratch) / str(number)
                shutil.copytree(folder, mine)
                BEFORE.get(name, lambda *_: None)(mine, clock)
                asyncio.run(shoot(mine, clock, name, size, keys))
                to_png(name)
                print(name)


if __name__ == "__main__":
    main(sys.argv[1:])
