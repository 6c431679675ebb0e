"""What the job's thread says, as a message of the screens."""

from textual.message import Message

from aligner.job import Event


class Told(Message):
    """An event of the job, in the order of the posts."""

    def __init__(self, event: Event) -> None:
        super().__init__()
        self.event = event
