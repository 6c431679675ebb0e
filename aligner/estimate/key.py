"""What a fit depends on, to keep it by."""

from dataclasses import dataclass

from aligner.estimate.events import Event
from aligner.estimate.frame import Frame


@dataclass(frozen=True)
class Key:
    """What a fit depends on; frames are compared by identity (they are cached themselves).

    places: the number of each sighting, and where on the scale [Hz] the set then truly stood.
    """

    frame: Frame
    group: tuple[str, ...]
    events: tuple[Event, ...]
    places: tuple[tuple[int, float], ...]

    def __hash__(self) -> int:
        return hash((id(self.frame), self.group, self.events, self.places))

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Key)
            and self.frame is other.frame
            and (self.group, self.events, self.places) == (other.group, other.events, other.places)
        )
