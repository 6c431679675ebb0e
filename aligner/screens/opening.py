"""How a job and its source are opened."""

from collections.abc import Callable
from dataclasses import dataclass

from aligner.job import Job
from aligner.screens.sources import Plugged


@dataclass(frozen=True, slots=True)
class Opening:
    """How to open a job and its source; both may be slow, and are called on the job's own thread."""

    job: Callable[[], Job]
    source: Callable[[Job], Plugged]
    fresh: bool
