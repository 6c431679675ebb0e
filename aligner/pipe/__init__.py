"""The job by JSON Lines on standard input and output, for scripts, motor-driven benches and tests."""

from aligner.pipe.turns import run

__all__ = ["run"]
