"""``python -m fuzz FIELD NUMBER`` runs one case again; alone it is the long profile of ``ROOTLING_FUZZ`` cases."""

from __future__ import annotations

import os
import sys


def main(arguments: list[str]) -> int:
    if len(arguments) == 2:
        from fuzz.worker import case

        look = case(arguments[0], int(arguments[1]), tell=True)
        for kind, text in look.failures:
            print(f"- {kind}\n    {text}")
        return len(look.failures)
    from fuzz.profiles import long

    return len(long(int(os.environ.get("ROOTLING_FUZZ", "1000000"))).found)


if __name__ == "__main__":
    sys.exit(min(1, main(sys.argv[1:])))
