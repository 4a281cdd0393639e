"""`python3 -m app`: the environment first, then the program."""

from __future__ import annotations

import sys

from app.environment import ensure


def _run() -> int:
    if getattr(sys, "frozen", False):
        # A process that a frozen program starts beside itself comes in here too, with its work as arguments:
        # that ends in this call. A frozen program carries its environment with it.
        import multiprocessing

        multiprocessing.freeze_support()
    else:
        ensure()
    # Only now are the program's packages sure to be there.
    from app.main import main

    return main(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(_run())
