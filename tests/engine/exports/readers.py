"""Readers of what is exported, written without the libraries that wrote it.

DXF as its group codes (DXF reference, "group codes in numerical order"), SVG by
the XML parser, outlines measured point by point. Sheets are rendered by PDFium
and their codes read by ZXing.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from math import atan, atan2, ceil, cos, hypot, pi, sin

Point = tuple[float, float]
SVG = "{http://www.w3.org/2000/svg}"


# DXF


def pairs(data: bytes) -> list[tuple[int, str]]:
    """Group codes and values: two lines each, nothing else in the file."""
    lines = data.decode("cp1252").splitlines()
    assert len(lines) % 2 == 0
    found = [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=True)]
    assert found[-1] == (0, "EOF")
    return found


def header(data: bytes) -> dict[str, str]:
    """The first value of each header variable."""
    found, name = {}, ""
    for code, value in pairs(data):
        if code == 9:
            name = value
        elif name:
            found.setdefault(name, value)
        if (code, value) == (0, "ENDSEC"):
            return found
    raise AssertionError("no header")


def entities(data: bytes) -> list[list[tuple[int, str]]]:
    """What is drawn: each entity as its group codes."""
    groups = pairs(data)
    start = groups.index((2, "ENTITIES")) + 1
    found: list[list[tuple[int, str]]] = []
    for code, value in groups[start:]:
        if (code, value) == (0, "ENDSEC"):
            return found
        if code == 0:
            found.append([])
        found[-1].append((code, value))
    raise AssertionError("no end of the entities")


def layers(data: bytes) -> set[str]:
    groups = pairs(data)
    return {
        groups[n + 1][1] for n, pair in enumerate(groups) if pair == (100, "AcDbLayerTableRecord")
    }


def of(data: bytes, kind: str, layer: str) -> list[list[tuple[int, str]]]:
    return [e for e in entities(data) if e[0] == (0, kind) and (8, layer) in e]


def one(entity: list[tuple[int, str]], code: int) -> str:
    return next(value for known, value in entity if known == code)


def circles(data: bytes, layer: str) -> list[tuple[float, float, float]]:
    return [
        (float(one(e, 10)), float(one(e, 20)), float(one(e, 40))) for e in of(data, "CIRCLE", layer)
    ]


def outline(entity: list[tuple[int, str]]) -> list[tuple[float, float, float]]:
    """Vertices with their bulges; the line must be closed by its flag."""
    assert int(one(entity, 70)) & 1 == 1
    found: list[list[float]] = []
    for code, value in entity:
        if code == 10:
            found.append([float(value), 0.0, 0.0])
        elif code == 20:
            found[-1][1] = float(value)
        elif code == 42:
            found[-1][2] = float(value)
    assert len(found) == int(one(entity, 90))
    return [(x, y, bulge) for x, y, bulge in found]


def texts(data: bytes, layer: str) -> dict[str, Point]:
    """Texts by what they say, with the point they are centred on."""
    return {one(e, 1): (float(one(e, 11)), float(one(e, 21))) for e in of(data, "TEXT", layer)}


# measuring


def sampled(vertices: list[tuple[float, float, float]], step: float = 0.05) -> list[Point]:
    """Points along a closed outline, arcs by their bulge = tan(angle / 4)."""
    found: list[Point] = []
    for (x0, y0, bulge), (x1, y1, _) in zip(vertices, [*vertices[1:], vertices[0]], strict=True):
        found += _arc(x0, y0, x1, y1, bulge, step) if bulge else _line(x0, y0, x1, y1, step)
    return found


def _line(x0: float, y0: float, x1: float, y1: float, step: float) -> Iterator[Point]:
    count = max(ceil(hypot(x1 - x0, y1 - y0) / step), 1)
    for n in range(count):
        yield x0 + (x1 - x0) * n / count, y0 + (y1 - y0) * n / count


def _arc(x0: float, y0: float, x1: float, y1: float, bulge: float, step: float) -> Iterator[Point]:
    turn = 4 * atan(bulge)
    chord = hypot(x1 - x0, y1 - y0)
    apart = chord / 2 / (sin(turn / 2) / cos(turn / 2)) if abs(abs(turn) - pi) > 1e-9 else 0.0
    mx = (x0 + x1) / 2 - (y1 - y0) / chord * apart
    my = (y0 + y1) / 2 + (x1 - x0) / chord * apart
    radius, start = hypot(x0 - mx, y0 - my), atan2(y0 - my, x0 - mx)
    count = max(ceil(abs(turn) * radius / step), 4)
    for n in range(count):
        angle = start + turn * n / count
        yield mx + radius * cos(angle), my + radius * sin(angle)


def area(points: list[Point]) -> float:
    """Area inside a closed line, positive where it runs anticlockwise."""
    ends = [*points[1:], points[0]]
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(points, ends, strict=True)) / 2


def box(points: list[Point]) -> tuple[float, float, float, float]:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


# SVG


def svg(data: bytes) -> ET.Element:
    return ET.fromstring(data)


def group(root: ET.Element, layer: str) -> ET.Element:
    return next(g for g in root.iter(f"{SVG}g") if g.get("id") == layer)


def corners(path: str) -> list[Point]:
    """The points of a path of M, L and A commands with absolute coordinates."""
    found = []
    for word in path.replace("Z", "").replace("L", "|L").replace("A", "|A").split("|"):
        numbers = [float(n) for n in word.strip()[1:].split()]
        found.append((numbers[-2], numbers[-1]))
    return found


# PDF


def page_texts(data: bytes) -> list[str]:
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    return [
        page.get_textpage().get_text_range().replace("\r\n", "\n").replace("\ufffe", "-")
        for page in document
    ]


def page_pictures(data: bytes, dots: int = 150) -> list[object]:
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    return [page.render(scale=dots / 72, grayscale=True).to_pil() for page in document]


def codes(picture: object) -> list[str]:
    """What the QR codes in a picture say."""
    import zxingcpp

    return [found.text for found in zxingcpp.read_barcodes(picture)]
