"""The pipe as a program of its own, with the plain engine: `python plain_pipe.py ARGUMENT JOBS-FOLDER`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from aligner.errors import AlignerError
from aligner.pipe import run
from tests import plain_engine


def main() -> int:
    try:
        return run(sys.argv[1], Path(sys.argv[2]), sys.stdin.buffer, sys.stdout.buffer, engine=plain_engine)
    except AlignerError as error:
        sys.stderr.write(f"{error}\n")
        return error.exit_code


if __name__ == "__main__":
    sys.exit(main())
