"""The command line, as ``python -m rootling``."""

import sys

from rootling.command import main

if __name__ == "__main__":
    sys.exit(main())
