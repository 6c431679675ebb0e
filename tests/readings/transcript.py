"""An instrument as a list of what is sent and what it answers; what is left over at the end fails the test."""

from types import TracebackType
from typing import Self


class Transcript:
    """A wire that plays `[(sent, reply), ...]`. A reply of None is silence; replies come in chunks of `chunk` bytes."""

    def __init__(self, exchanges: list[tuple[bytes, bytes | None]], chunk: int = 4096) -> None:
        self._exchanges = list(exchanges)
        self._coming = b""
        self._chunk = chunk

    def write(self, data: bytes) -> None:
        assert self._exchanges, f"{data!r} was sent, and nothing more was expected"
        sent, reply = self._exchanges.pop(0)
        assert data == sent
        self._coming += reply or b""

    def read(self) -> bytes:
        now, self._coming = self._coming[: self._chunk], self._coming[self._chunk :]
        return now

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if kind is None:
            assert not self._exchanges, f"never sent: {self._exchanges}"
            assert not self._coming, f"never read: {self._coming!r}"


class Ticks:
    """A clock that goes on by a fixed step at every look."""

    def __init__(self, step_s: float = 0.5) -> None:
        self._now_s = 0.0
        self._step_s = step_s

    def __call__(self) -> float:
        self._now_s += self._step_s
        return self._now_s
