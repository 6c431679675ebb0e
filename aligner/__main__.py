"""`python -m aligner` is the command `aligner`."""

import sys

from aligner.cli import main

if __name__ == "__main__":
    sys.exit(main())
