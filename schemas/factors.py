"""Published factors and constants, each once, with its source.

NIST SP 811, Guide for the Use of the International System of Units, 2008, Appendix B.8.
"""

from __future__ import annotations

from decimal import Decimal

MM_PER_INCH = Decimal("25.4")  # exact
MM_PER_UNIT = {"mm": 1.0, "in": float(MM_PER_INCH), "deg": 1.0}  # an angle stays what it is
G = 9.80665  # m/s2, standard gravity, exact
