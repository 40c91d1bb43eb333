"""`python -m auditor` is the `auditor` command."""

from __future__ import annotations

import gc
import sys

from auditor.cli import main


def run() -> int:
    """Run the command in a process that ends with it."""
    # What is loaded by now and what is left at the end needs no look for garbage: the process ends with it.
    gc.freeze()
    status = main()
    gc.freeze()
    return status


if __name__ == "__main__":
    sys.exit(run())
