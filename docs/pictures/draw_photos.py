"""Draw the reference pictures of the demo book. They are drawings and say so.

Every picture is drawn from values of the record that links it: shape and size
of the seat, form of the fingers, grid of the plate, engraved numbers. The same
records and the same Pillow give the same bytes.

    python docs/pictures/draw_photos.py [FOLDER] [--book DIR]
"""

from __future__ import annotations

import argparse
import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageFont, ImageOps

WIDTH, HEIGHT, STRIP = 1600, 1200, 96  # drawn at twice the size, then halved
MIDDLE = (WIDTH / 2, (HEIGHT - STRIP) / 2)
Point = tuple[float, float]
Colour = tuple[int, int, int]
Metal = tuple[Colour, Colour]  # in shade, in light

STEEL = ((58, 63, 70), (205, 211, 217))
BRIGHT = ((120, 127, 135), (240, 243, 246))
SOFT = ((92, 92, 90), (214, 212, 205))
DARK = ((22, 24, 28), (84, 90, 98))
FLOOR = ((74, 80, 88), (122, 128, 135))
CASTING = ((40, 58, 66), (104, 132, 140))
BENCH = {
    "jaws": ((30, 34, 38), (86, 92, 96)),
    "fingers": ((52, 46, 40), (128, 116, 102)),
    "tray": ((36, 44, 40), (112, 124, 116)),
}
Values = dict[str, Any]
Painter = Callable[[ImageDraw.ImageDraw], None]


class Canvas:
    """A picture that is built from shaded shapes, each with a soft shadow."""

    def __init__(self, bench: Metal) -> None:
        self.image = ramp(bench, 70)
        self.draw = ImageDraw.Draw(self.image)

    def shape(self, paint: Painter, metal: Metal, turn: float = 35, high: int = 10) -> None:
        """Fill what `paint` paints white on a mask; `high` is the length of its shadow."""
        self.stamp(mask_of(paint), metal, turn, high)

    def stamp(self, mask: Image.Image, metal: Metal, turn: float = 35, high: int = 10) -> None:
        """Fill a mask with shaded metal, light on its upper left edge, dark on the other."""
        if high:
            shadow = ImageChops.offset(mask, high, high)
            shadow = shadow.filter(ImageFilter.GaussianBlur(high * 0.8))
            self.image.paste((8, 9, 11), mask=shadow.point(lambda v: int(v * 0.62)))
        self.image.paste(ramp(metal, turn), mask=mask)
        light = ImageChops.subtract(mask, ImageChops.offset(mask, 3, 3))
        dim = ImageChops.subtract(mask, ImageChops.offset(mask, -3, -3))
        self.image.paste((246, 248, 250), mask=light.point(lambda v: int(v * 0.55)))
        self.image.paste((10, 12, 14), mask=dim.point(lambda v: int(v * 0.55)))

    def hollow(self, paint: Painter, metal: Metal, deep: int = 9) -> None:
        """A recess: shade lies inside its upper left edge."""
        mask = mask_of(paint)
        self.image.paste(ramp(metal, 215), mask=mask)
        shade = ImageChops.subtract(mask, ImageChops.offset(mask, deep, deep))
        shade = ImageChops.multiply(shade.filter(ImageFilter.GaussianBlur(deep * 0.5)), mask)
        self.image.paste((6, 8, 10), mask=shade.point(lambda v: int(v * 0.8)))
        rim = ImageChops.subtract(ImageChops.offset(mask, 3, 3), mask)
        self.image.paste((240, 242, 244), mask=rim.point(lambda v: int(v * 0.4)))

    def engrave(self, middle: Point, text: str, size: int) -> None:
        """Cut letters: dark, with a light lower edge."""
        font = ImageFont.load_default(size)
        x, y = middle
        self.draw.text((x + 2, y + 2), text, (248, 250, 252), font, anchor="mm")
        self.draw.text((x, y), text, (26, 29, 33), font, anchor="mm")

    def dashes(self, points: list[Point], colour: tuple[int, int, int], width: int = 4) -> None:
        """A dashed outline through points: where the blank will be."""
        length, on = 0.0, True
        for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1], strict=True):
            span = math.hypot(x1 - x0, y1 - y0)
            steps = max(1, round(span / 7))
            for step in range(steps):
                a, b = step / steps, (step + 1) / steps
                ends = [(x0 + (x1 - x0) * s, y0 + (y1 - y0) * s) for s in (a, b)]
                if on:
                    self.draw.line(ends, colour, width)
                length += span / steps
                if length > 21:
                    length, on = 0.0, not on

    def finish(self, mark: str, words: str) -> Image.Image:
        """Put the strip with the caption under the picture and halve it."""
        top = HEIGHT - STRIP
        self.draw.rectangle((0, top, WIDTH, HEIGHT), (20, 22, 25))
        self.draw.line((0, top, WIDTH, top), (196, 160, 70), 5)
        middle = top + STRIP / 2 + 2
        bold, small = ImageFont.load_default(46), ImageFont.load_default(36)
        self.draw.text((40, middle), mark, (240, 240, 236), bold, anchor="lm")
        start = 40 + bold.getlength(mark) + 34
        self.draw.text((start, middle), words, (178, 182, 186), small, anchor="lm")
        said = "drawing, not a photograph"
        self.draw.text((WIDTH - 40, middle), said, (226, 190, 98), small, anchor="rm")
        return self.image.resize((WIDTH // 2, HEIGHT // 2), Image.Resampling.LANCZOS)


def ramp(colours: Metal, turn: float) -> Image.Image:
    """A whole picture of one metal, light to dark along a direction."""
    dark, light = colours
    grey = Image.linear_gradient("L").rotate(turn, Image.Resampling.BICUBIC, fillcolor=128)
    grey = grey.crop((40, 40, 216, 216)).resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC)
    return ImageOps.colorize(grey, light, dark)


def mask_of(paint: Painter) -> Image.Image:
    """What a painter paints, white on black."""
    mask = Image.new("L", (WIDTH, HEIGHT), 0)
    paint(ImageDraw.Draw(mask))
    return mask


def polygon(*outlines: list[Point]) -> Painter:
    """Paint closed outlines."""

    def paint(draw: ImageDraw.ImageDraw) -> None:
        for outline in outlines:
            draw.polygon(outline, 255)

    return paint


def circle(middle: Point, radius: float) -> Painter:
    """Paint a disc."""
    return lambda draw: draw.ellipse(disc(middle, radius), 255)


def plate(box: tuple[float, ...], corner: int = 0) -> Painter:
    """Paint a rectangle, its corners rounded if told so."""
    return lambda draw: draw.rounded_rectangle(box, corner, 255)


def disc(middle: Point, radius: float) -> tuple[float, float, float, float]:
    """The square around a circle."""
    x, y = middle
    return (x - radius, y - radius, x + radius, y + radius)


def arc(middle: Point, radius: float, first: float = 0, last: float = 360) -> list[Point]:
    """Points on a circle; degrees count against the clock, as on paper."""
    steps = max(2, round(abs(last - first) / 3))
    turns = [math.radians(first + (last - first) * n / steps) for n in range(steps + 1)]
    return [(middle[0] + radius * math.cos(t), middle[1] - radius * math.sin(t)) for t in turns]


def hexagon(middle: Point, flats: float) -> list[Point]:
    """Corners of a hexagon with a flat to the left and to the right."""
    turns = [math.radians(30 + 60 * n) for n in range(6)]
    reach = flats / math.sqrt(3)
    return [(middle[0] + reach * math.cos(t), middle[1] - reach * math.sin(t)) for t in turns]


def size_of(blank: Values, unit: float) -> float:
    """The largest size of the blank across, in mm."""
    for name in ("diameter", "across_flats", "width"):
        if name in blank:
            return float(blank[name][1]) * unit
    return 60.0


def draw_jaws(record: Values) -> Canvas:
    """What clamps: a chuck, a collet, or a vice from the front or from above."""
    kind = record["jaws"].get("kind", "chuck")
    if kind == "vice":
        round_seat = record["blank"]["shape"] in ("round", "tube", "bar")
        return draw_vice_from_above(record) if round_seat else draw_vice(record)
    return draw_collet(record) if kind == "collet" else draw_chuck(record)


def unit_of(record: Values) -> float:
    """The record's unit in mm."""
    return 25.4 if record["record"]["units"] == "in" else 1.0


def draw_chuck(record: Values) -> Canvas:
    """The chuck's face, looked at along the spindle."""
    canvas, jaws, blank = Canvas(BENCH["jaws"]), record["jaws"], record["blank"]
    inside = jaws["inside_or_outside"] == "inside"
    across = float(blank["bore"]) * unit_of(record) if inside else size_of(blank, unit_of(record))
    seat = min(330.0, max(104.0, across / 2 * 6.2))
    canvas.shape(circle(MIDDLE, 520), DARK, 20, 22)
    canvas.shape(circle(MIDDLE, 500), STEEL, 60, 0)
    for ring in (470, 380, 290, 200):
        canvas.draw.ellipse(disc(MIDDLE, ring), None, (86, 92, 99), 2)
    canvas.hollow(circle(MIDDLE, 92), DARK, 20)
    half = 55 if jaws["id"][0] == "P" else 27  # pie jaws close the circle
    for turn in (90, 210, 330):
        if inside:
            draw_inside_jaw(canvas, turn, 49, seat)
        else:
            draw_outside_jaw(canvas, turn, half, seat, cut_of(blank, seat))
    spot = (MIDDLE[0], MIDDLE[1] - ((seat + 470) / 2 if not inside else seat * 0.72))
    canvas.engrave(spot, jaws["id"], 54 if not inside else 40)
    outline = hexagon(MIDDLE, across * 6.2) if blank["shape"] == "hexagon" else arc(MIDDLE, seat)
    canvas.dashes(outline if not inside else arc(MIDDLE, seat + 10), (232, 196, 96))
    return canvas


def cut_of(blank: Values, seat: float) -> list[Point]:
    """The wall that was cut into the jaws."""
    return hexagon(MIDDLE, seat * 2) if blank["shape"] == "hexagon" else arc(MIDDLE, seat)


def ring_part(near: float, far: float, turn: float, half: float) -> list[Point]:
    """The outline of a piece of a ring about the middle."""
    outer = arc(MIDDLE, far, turn - half, turn + half)
    return outer + arc(MIDDLE, near, turn + half, turn - half)


def draw_outside_jaw(
    canvas: Canvas, turn: float, half: float, seat: float, wall: list[Point]
) -> None:
    """One jaw that closes inwards: its body, and the step on which the blank rests."""
    slot = arc(MIDDLE, 496, turn - 5, turn + 5) + arc(MIDDLE, 96, turn + 16, turn - 16)
    canvas.hollow(polygon(slot), DARK, 8)
    body = mask_of(polygon(ring_part(max(74, seat - 58), 482, turn, half)))
    hole = mask_of(polygon(wall))
    canvas.stamp(body, STEEL, 215, 16)
    canvas.stamp(ImageChops.subtract(body, hole), SOFT, 25 + turn / 9, 0)
    solid = ImageChops.invert(hole)
    rim = ImageChops.subtract(ImageChops.offset(solid, 9, 9), solid)
    shade = ImageChops.multiply(rim, ImageChops.multiply(body, hole))
    shade = shade.filter(ImageFilter.GaussianBlur(4))
    canvas.image.paste((12, 14, 16), mask=shade.point(lambda v: int(v * 0.7)))
    for side in (-9, 9):
        reach = seat + (482 - seat) * 0.82
        draw_bolt(canvas, arc(MIDDLE, reach, turn + side, turn + side)[0], 20)


def draw_inside_jaw(canvas: Canvas, turn: float, half: float, seat: float) -> None:
    """One jaw that opens outwards: its foot, and the step that fills the bore."""
    canvas.shape(polygon(ring_part(70, seat + 70, turn, half)), STEEL, 40, 14)
    canvas.shape(polygon(ring_part(78, seat, turn, half)), SOFT, 20, 12)
    for side in (-34, 34):
        draw_bolt(canvas, arc(MIDDLE, seat * 0.46, turn + side, turn + side)[0], 17)


def draw_bolt(canvas: Canvas, middle: Point, radius: float) -> None:
    """A screw with a hexagon socket."""
    canvas.hollow(circle(middle, radius), STEEL, 6)
    canvas.hollow(polygon(hexagon(middle, radius)), DARK, 4)


def draw_collet(record: Values) -> Canvas:
    """The collet's mouth, looked at along the spindle."""
    canvas, jaws = Canvas(BENCH["jaws"]), record["jaws"]
    canvas.shape(circle(MIDDLE, 500), DARK, 20, 22)
    canvas.shape(circle(MIDDLE, 452), CASTING, 60, 0)
    for number in range(6):
        x, y = arc(MIDDLE, 408, 30 + 60 * number, 30 + 60 * number)[0]
        draw_bolt(canvas, (x, y), 24)
    canvas.shape(circle(MIDDLE, 350), STEEL, 200, 8)
    canvas.shape(circle(MIDDLE, 322), BRIGHT, 30, 6)
    for number in range(int(jaws.get("count", 3))):
        turn = 30 + 120 * number
        slit = arc(MIDDLE, 322, turn - 1.3, turn + 1.3) + arc(MIDDLE, 90, turn + 4.6, turn - 4.6)
        canvas.hollow(polygon(slit), DARK, 4)
    seat = max(104.0, size_of(record["blank"], unit_of(record)) * 5.6)
    canvas.shape(circle(MIDDLE, seat + 16), SOFT, 215, 0)
    canvas.hollow(circle(MIDDLE, seat), DARK, 34)
    canvas.hollow(circle(MIDDLE, 34), STEEL, 8)
    canvas.engrave((MIDDLE[0], MIDDLE[1] - (seat + 330) / 2), jaws["id"], 50)
    canvas.dashes(arc(MIDDLE, seat - 6), (232, 196, 96))
    return canvas


def draw_vice(record: Values) -> Canvas:
    """The vice's jaws from the front: moving jaw left, fixed jaw right."""
    canvas, jaws, blank = Canvas(BENCH["jaws"]), record["jaws"], record["blank"]
    unit = unit_of(record)
    wide, high = size_of(blank, unit) * 6.4, min(430.0, float(blank["height"]) * unit * 6.4)
    bite = max(30.0, float(jaws["bite"]) * unit * 6.4)
    floor, top = 660.0, 660.0 - bite
    left, right = MIDDLE[0] - wide / 2, MIDDLE[0] + wide / 2
    canvas.shape(plate((110, 830, 1490, 1010)), CASTING, 10, 20)
    canvas.shape(plate((190, 790, 1410, 850)), STEEL, 5, 8)
    for line in range(240, 1400, 96):
        canvas.draw.line((line, 800, line, 842), (70, 76, 82), 3)
    for edge, far, way in ((left - 10, 170, 1), (right, 1430, -1)):
        ledge = edge + way * 84
        block = [(far, top), (edge, top), (edge, floor), (ledge, floor), (ledge, 800), (far, 800)]
        canvas.shape(polygon(block), SOFT, 30 - way * 10, 14)
    if jaws["id"].startswith("D"):
        teeth = int(bite // 10)
        for n in range(teeth):
            tooth = floor - 6 - n * 10
            canvas.draw.line((left - 22, tooth, left - 10, tooth - 5), (30, 33, 36), 3)
            canvas.draw.line((right + 12, tooth, right, tooth - 5), (30, 33, 36), 3)
    for edge in (270, 1330):
        draw_bolt(canvas, (edge, 742), 26)
    canvas.engrave(((right + 1430) / 2, (top + 800) / 2 - 6), jaws["id"], 60)
    canvas.engrave(((left + 170) / 2, (top + 800) / 2 - 6), jaws["id"], 60)
    box = [(left, floor), (left, floor - high), (right, floor - high), (right, floor)]
    canvas.dashes(box, (232, 196, 96), 5)
    if blank["shape"] == "hexagon":
        for share in (-0.25, 0.25):
            x = MIDDLE[0] + share * wide
            canvas.dashes([(x, floor), (x, floor - high), (x, floor)], (170, 148, 90), 3)
    return canvas


def draw_vice_from_above(record: Values) -> Canvas:
    """The vice's jaws from above, with half-round seats."""
    canvas, jaws = Canvas(BENCH["jaws"]), record["jaws"]
    seat = min(300.0, size_of(record["blank"], unit_of(record)) / 2 * 7.4)
    canvas.shape(plate((330, 40, 1270, 1070)), CASTING, 10, 20)
    hole = mask_of(circle(MIDDLE, seat))
    ledge = mask_of(circle(MIDDLE, seat - 46))
    for low, high, turn in ((110, MIDDLE[1] - 16, 20), (MIDDLE[1] + 16, 1000, 40)):
        block = mask_of(plate((230, low, 1370, high)))
        canvas.stamp(ImageChops.subtract(block, ledge), STEEL, 215, 16)
        canvas.stamp(ImageChops.subtract(block, hole), SOFT, turn, 0)
        for x in (320, 1280):
            draw_bolt(canvas, (x, (low + high) / 2), 30)
    canvas.engrave((MIDDLE[0], 190), jaws["id"], 60)
    canvas.engrave((MIDDLE[0], 930), jaws["id"], 60)
    canvas.dashes(arc(MIDDLE, seat), (232, 196, 96), 5)
    return canvas


def draw_fingers(record: Values, what: str) -> Canvas:
    """Both fingers from below, the way a blank sees them come."""
    canvas, fingers = Canvas(BENCH["fingers"]), record["fingers"][what]
    canvas.shape(plate((330, 300, 1270, 804), 46), CASTING, 25, 24)
    canvas.hollow(plate((380, 470, 1220, 634)), DARK, 14)
    for x, y in ((390, 360), (1210, 360), (390, 744), (1210, 744)):
        draw_bolt(canvas, (x, y), 26)
    inside = fingers["hold"] == "inside"
    held = held_size(record, what) / 2 * (10.5 if inside else 5.6)
    held = min(300.0, max(110.0, held))
    points = finger_outline(fingers, held, inside)
    for side in (-1, 1):
        placed = [(MIDDLE[0] + side * x, MIDDLE[1] + y) for x, y in points]
        canvas.shape(polygon(placed), BRIGHT, 30 + side * 18, 18)
        tail = MIDDLE[0] + side * (max(x for x, _ in points) - 66 if not inside else held * 0.5)
        canvas.engrave((tail, MIDDLE[1]), fingers["id"], 38)
        if not inside:
            for y in (-96, 96):
                draw_bolt(canvas, (tail, MIDDLE[1] + y), 18)
        if fingers["form"] == "flat":
            face = MIDDLE[0] + side * (held + (-16 if inside else 16))
            back = face + side * (-14 if inside else 14)
            for y in range(int(MIDDLE[1]) - 116, int(MIDDLE[1]) + 117, 16):
                canvas.draw.line((face, y, back, y), (58, 62, 66), 4)
    canvas.dashes(blank_outline(record, what, held), (232, 196, 96), 5)
    return canvas


def held_size(record: Values, what: str) -> float:
    """The size across where the fingers hold, in mm."""
    unit = unit_of(record)
    if what == "part":
        return float(record["part"].get("held", 50)) * unit
    held = record["blank"].get("held")
    return float(held[1]) * unit if held else size_of(record["blank"], unit)


def finger_outline(fingers: Values, held: float, inside: bool) -> list[Point]:
    """The right-hand finger; the left one is its mirror image."""
    if inside:
        return [(26, -84), (held - 16, -118), (held - 16, 118), (26, 84)]
    far = held + 250
    if fingers["form"] == "flat":
        return [(held + 16, -130), (far, -130), (far, 130), (held + 16, 130)]
    half = math.radians(float(fingers.get("half_angle", 45)))
    root = held / math.sin(half) + 26
    tall = min(held * 1.02, 250.0)
    mouth = root - tall / math.tan(half)
    end = max(far, root + 150)
    return [(root, 0), (mouth, -tall), (end, -tall), (end, tall), (mouth, tall)]


def blank_outline(record: Values, what: str, held: float) -> list[Point]:
    """The outline of what the fingers hold."""
    shape = record["blank" if what == "blank" else "part"].get("shape", "round")
    if shape == "hexagon":
        return hexagon(MIDDLE, held * 2)
    if shape == "block":
        long = min(430.0, held * 1.5)
        return corners_of(MIDDLE, held, long)
    return arc(MIDDLE, held)


def draw_tray(record: Values, cell: Values) -> Canvas:
    """The plate from above, near edge below."""
    canvas, tray = Canvas(BENCH["tray"]), record["tray"]
    across, along = float(tray["plate_across"]), float(tray["plate_along"])
    scale = min(1480 / across, 960 / along)
    left, low = MIDDLE[0] - across * scale / 2, MIDDLE[1] + along * scale / 2 - 16
    edges = (left, low - along * scale, left + across * scale, low)
    canvas.shape(plate(edges, 18), BRIGHT, 40, 18)
    centres = {
        (row, column): place_of(tray, cell, scale, edges, row, column)
        for row in range(1, tray["along"] + 1)
        for column in range(1, tray["across"] + 1)
    }
    outlines = [pocket_outline(tray, scale, middle) for middle in centres.values()]
    deep = max(3, min(12, round(float(tray["pocket_size"]) * scale * 0.07)))
    canvas.hollow(polygon(*outlines), FLOOR, deep)
    for name in tray.get("unused", []):
        row, column = (int(part) for part in name[1:].split("c"))
        draw_tape(canvas, centres[(row, column)], float(tray["pocket_size"]) * scale / 2)
    x, y = centres[(1, 1)]
    canvas.draw.ellipse(disc((x, y), 9), (206, 60, 48))
    canvas.engrave((x, y + 26), "r1c1", 22)
    draw_tag(canvas, (MIDDLE[0], low + 14), tray["plate"])
    return canvas


def place_of(
    tray: Values, cell: Values, scale: float, edges: tuple[float, ...], row: int, column: int
) -> Point:
    """Where a pocket lies in the picture: the cell says which corner is r1c1."""
    corner = cell.get("bed", {}).get("corner", "near left")
    x = (float(tray["first_across"]) + (column - 1) * float(tray["pitch_across"])) * scale
    y = (float(tray["first_along"]) + (row - 1) * float(tray["pitch_along"])) * scale
    return (
        edges[0] + x if "left" in corner else edges[2] - x,
        edges[3] - y if "near" in corner else edges[1] + y,
    )


def pocket_outline(tray: Values, scale: float, middle: Point) -> list[Point]:
    """The edge of one pocket."""
    half = float(tray["pocket_size"]) * scale / 2
    if tray.get("pocket_shape") != "rectangle":
        return arc(middle, half)
    other = float(tray["pocket_length"]) * scale / 2
    return corners_of(middle, half, other)


def corners_of(middle: Point, across: float, along: float) -> list[Point]:
    """A rectangle about a middle, by its half sizes."""
    ways = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [(middle[0] + across * x, middle[1] + along * y) for x, y in ways]


def draw_tape(canvas: Canvas, middle: Point, half: float) -> None:
    """A strip of tape over a pocket that is not loaded."""
    x, y = middle
    reach, wide = half * 0.95, half * 0.2
    for way in (-1, 1):
        strip = [
            (x - reach - wide, y - way * reach + way * wide),
            (x - reach + wide, y - way * reach - way * wide),
            (x + reach + wide, y + way * reach - way * wide),
            (x + reach - wide, y + way * reach + way * wide),
        ]
        canvas.draw.polygon(strip, (196, 168, 84), (150, 124, 52))


def draw_tag(canvas: Canvas, middle: Point, mark: str) -> None:
    """A riveted tag with the plate's mark."""
    x, y = middle
    half = ImageFont.load_default(52).getlength(mark) / 2 + 64
    box = (x - half, y - 38, x + half, y + 38)
    canvas.shape(plate(box, 14), SOFT, 20, 10)
    for side in (-1, 1):
        canvas.hollow(circle((x + side * (half - 26), y), 10), DARK, 3)
    canvas.engrave((x, y - 2), mark, 52)


def draw(record: Values, cell: Values, shows: str) -> Image.Image:
    """The picture of one section of a record, with its caption."""
    section, _, what = shows.partition(".")
    if section == "fingers":
        fingers = record["fingers"][what]
        canvas = draw_fingers(record, what)
        angle = f", half angle {fingers['half_angle']} deg" if "half_angle" in fingers else ""
        return canvas.finish(fingers["id"], f"{fingers['form']} fingers, {fingers['hold']}{angle}")
    if section == "tray":
        tray = record["tray"]
        words = f"tray plate, {tray['across']} x {tray['along']} pockets"
        return draw_tray(record, cell).finish(tray["plate"], words)
    jaws = record["jaws"]
    words = f"{jaws.get('kind', 'chuck')}, holds {jaws['inside_or_outside']}"
    return draw_jaws(record).finish(jaws["id"], words)


def draw_all(book: Path, folder: Path) -> None:
    """Draw every linked picture once; of several records that link it, the first in order."""
    done: set[str] = set()
    folder.mkdir(parents=True, exist_ok=True)
    for path in sorted((book / "records").glob("*.toml")):
        record = tomllib.loads(path.read_text("utf-8"), parse_float=str)
        home = book / "cells" / f"{record['record']['cell']}.toml"
        cell = tomllib.loads(home.read_text("utf-8"))
        for photo in record.get("photos", {}).values():
            name = Path(photo["file"]).name
            if name not in done:
                done.add(name)
                picture = draw(record, cell, photo["shows"])
                picture.save(folder / name, "JPEG", quality=80, optimize=True)


def main() -> None:
    """Draw into the folder that is named, else into the book."""
    root = Path(__file__).resolve().parents[2]
    parser = argparse.ArgumentParser(description="Draw the reference pictures of the demo book.")
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--book", type=Path, default=root / "demo_jobs")
    given = parser.parse_args()
    draw_all(given.book, given.folder or given.book / "photos")


if __name__ == "__main__":
    main()
