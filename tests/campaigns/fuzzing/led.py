"""One target under atheris: `PYTHONPATH=. python tests/campaigns/fuzzing/led.py TARGET
[libFuzzer's words]`.
"""

from __future__ import annotations

import sys

import atheris

with atheris.instrument_imports(include=["schemas", "engine"]):
    from tests.campaigns.fuzzing.targets import TARGETS

if __name__ == "__main__":
    name = sys.argv.pop(1)
    atheris.Setup(sys.argv, TARGETS[name])
    atheris.Fuzz()
