"""`python -m tests.campaigns.mutants`: see the package."""

from __future__ import annotations

import sys

from tests.campaigns.mutants import main

if __name__ == "__main__":
    sys.exit(main())
