"""The guide at its first plain reading, with a counter on the serial port that is named; what the bench measures."""

# ruff: noqa: E402 - what keeps keys prompt comes before the framework, as in the program

import sys
from pathlib import Path

from aligner.screens.pace import hurry

hurry()

from aligner.engine.answers import Done
from aligner.engine.asks import Confirm
from aligner.job import Job
from aligner.procedure.library import find
from aligner.procedure.reader import read_procedure
from aligner.screens.app import AlignerApp
from aligner.screens.guide import Guide
from aligner.screens.opening import Opening
from aligner.screens.sources import Choice, plugged


def at_first_reading(folder: Path) -> Path:
    """A job whose cautions and connections are confirmed."""
    job = Job.create(read_procedure(find("fm-varactor")), "bench", folder)
    while isinstance(job.survey.ask, Confirm):
        job.answer(Done())
    job.close()
    return job.path


class OnPort(AlignerApp):
    """The application with that guide in front."""

    def __init__(self, port: str, folder: Path) -> None:
        super().__init__(folder)
        self._job = at_first_reading(folder)
        self._choice = Choice("serial", port, 115200)

    def on_ready(self) -> None:
        """The guide over the list."""
        opening = Opening(
            lambda: Job.open(self._job), lambda job: plugged(self._choice, job.procedure, job.path), fresh=True
        )
        self.push_screen(Guide(opening))


if __name__ == "__main__":
    OnPort(sys.argv[1], Path(sys.argv[2])).run()
