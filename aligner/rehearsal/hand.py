"""The hand on the adjusters: stops, play in the thread, and turns as a person counts them."""

from dataclasses import dataclass, field

from aligner.rehearsal.parts import Screw


@dataclass
class Hand:
    """Where every screw stands [turn, inwards] and where the tool in it stands; play lies between the two."""

    screws: dict[str, Screw]
    at: dict[str, float] = field(default_factory=dict)
    tool: dict[str, float] = field(default_factory=dict)
    sense: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name, screw in self.screws.items():
            self.at.setdefault(name, screw.start)
            self.tool.setdefault(name, screw.start)

    def reach(self, name: str) -> tuple[float, float]:
        """From where to where the screw can be turned; one without stops, a turn about where it stands."""
        screw = self.screws[name]
        return (0.0, screw.travel) if screw.stops else (self.at[name] - 0.5, self.at[name] + 0.5)

    def move_to(self, name: str, position: float) -> None:
        """Turn until the screw stands there (or at its stop); the tool goes further by the play."""
        low, high = self.reach(name)
        wanted = min(max(position, low), high)
        half = self.screws[name].play / 2
        if wanted == self.at[name]:
            return
        inwards = 1 if wanted > self.at[name] else -1
        self.at[name] = wanted
        self.tool[name] = wanted + inwards * half
        self.sense[name] = inwards

    def turn(self, name: str, turns: float) -> bool:
        """Turn the tool by so many turns, clockwise positive; False where a stop was met before that."""
        screw = self.screws[name]
        tool = self.tool[name] + turns * screw.clockwise
        half = screw.play / 2
        wanted = min(max(self.at[name], tool - half), tool + half)
        if screw.stops:
            self.at[name] = min(max(wanted, 0.0), screw.travel)
            tool = min(max(tool, self.at[name] - half), self.at[name] + half)
        else:
            self.at[name] = wanted
        self.tool[name] = tool
        if turns:
            self.sense[name] = 1 if turns * screw.clockwise > 0 else -1
        return wanted == self.at[name]

    def clockwise(self, name: str) -> float:
        """Where the tool stands [turn], clockwise positive; differences are net turns."""
        return self.tool[name] * self.screws[name].clockwise
