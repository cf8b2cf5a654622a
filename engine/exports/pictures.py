"""Pictures for paper: a photo as a small grey JPEG, a claim as the squares of a QR code.

A photo is foreign bytes: whatever its decoder raises, the sheet is printed and
says that the picture could not be.
"""

from __future__ import annotations

import io
import warnings

_FORMATS = ("JPEG", "PNG", "WEBP")
_MOST_PIXELS = 50_000_000
_LONGEST = 900  # pixels: 250 to the inch on a picture 90 mm wide


def grey(data: bytes) -> bytes | None:
    """A photo ready for a black and white sheet, upright; None where it cannot be read."""
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(data), formats=_FORMATS) as picture:
                if picture.size[0] * picture.size[1] > _MOST_PIXELS:
                    return None
                picture.draft("L", (_LONGEST, _LONGEST))
                upright = ImageOps.exif_transpose(picture)
                upright.thumbnail((_LONGEST, _LONGEST))
                held = io.BytesIO()
                ImageOps.autocontrast(upright.convert("L"), cutoff=1).save(held, "JPEG", quality=82)
                return held.getvalue()
    except Exception:  # foreign bytes: a decoder raises whatever it likes
        return None


def squares(claim: str) -> list[list[bool]]:
    """A QR code, True where it is dark. Level M: a seventh of it may be stained (ISO/IEC 18004)."""
    import segno

    code = segno.make(claim, error="m", micro=False, boost_error=False)
    return [[bool(cell) for cell in row] for row in code.matrix]
