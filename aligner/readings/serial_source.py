"""Serial ports: found, opened, read by a thread, lost and found again. The only file that knows the serial library.

Only the worker's thread touches its port: closing a port under a thread that reads it is a race. The thread reads for
at most a tenth of a second at a time, so that it ends soon when told to. A port that is lost is opened again by the
same path, so a stable path (/dev/serial/by-id/...) finds the instrument wherever it is plugged in.
"""

import errno
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import serial
from serial.tools import list_ports

from aligner.engine.capture import Sample
from aligner.errors import InstrumentError
from aligner.readings.cutter import LineCutter
from aligner.readings.lines import Want
from aligner.readings.source import Board, Dialogue, Live, Wire, nobody
from aligner.readings.stream import News, Stream
from aligner.text import clean

# What the library lets through: it raises more than its own error. termios is not there on Windows.
_LOST: tuple[type[Exception], ...] = (OSError, TypeError, ValueError)
try:
    import termios
except ImportError:
    pass
else:
    _LOST = (*_LOST, termios.error)

BAUDS = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400)
DEFAULT_BAUD = 9600
POLL_S = 0.1
RETRY_S = 0.5
_CHUNK = 4096
_BY_ID = Path("/dev/serial/by-id")


@dataclass(frozen=True, slots=True)
class FoundPort:
    """A port that is there now: what to open, and what it says of itself."""

    path: str
    description: str


@dataclass(frozen=True, slots=True)
class PortSettings:
    """How a port is opened. port: a device, `socket://host:port` or `loop://`. frame: bits, parity, stop bits.

    dtr, rts: the modem lines, None to leave them alone (many small boards start anew when DTR rises).
    """

    port: str
    baud: int = DEFAULT_BAUD
    frame: str = "8N1"
    dtr: bool | None = None
    rts: bool | None = None


def ports() -> tuple[FoundPort, ...]:
    """List the ports that are there, by their stable path where they have one."""
    stable = _stable_paths()
    found = [
        FoundPort(stable.get(port.device, port.device), clean(port.description or "", 80))
        for port in list_ports.comports()
    ]
    return tuple(sorted(found, key=lambda port: port.path))


def port_list() -> str:
    """One phrase that says which ports there are."""
    found = ports()
    if not found:
        return "no serial port is there now: plug the instrument in"
    return "ports there are: " + ", ".join(f"{clean(port.path, 120)} ({port.description})" for port in found)


def _stable_paths() -> dict[str, str]:
    """Device to stable path, on systems that have such paths."""
    if not _BY_ID.is_dir():
        return {}
    return {str(link.resolve()): str(link) for link in sorted(_BY_ID.iterdir())}


class Port:
    """A port that is open from the start; whatever goes wrong with it is an InstrumentError."""

    def __init__(self, settings: PortSettings) -> None:
        self._name = clean(settings.port, 120)
        # A socket tells only that something is there, never how much: asked for one byte at a time it takes all day.
        self._at_once = settings.port.lower().startswith("socket://")
        try:
            self._serial = _opened(settings)
        except _LOST as error:
            raise InstrumentError(f"cannot open {self._name}: {_reason(error)}; {port_list()}") from error

    def read(self) -> bytes:
        """Return what came within a tenth of a second, empty where nothing did."""
        try:
            if self._at_once:
                return bytes(self._serial.read(_CHUNK))
            first = bytes(self._serial.read(max(1, min(_CHUNK, self._serial.in_waiting))))
            # What was waited for is a single byte, and the rest of its line has come with it: one turn, not two.
            return first + self._rest() if len(first) == 1 else first
        except _LOST as error:
            raise self._lost() from error

    def _rest(self) -> bytes:
        size = min(_CHUNK, self._serial.in_waiting)
        return bytes(self._serial.read(size)) if size else b""

    def write(self, data: bytes) -> None:
        """Send."""
        try:
            self._serial.write(data)
        except _LOST as error:
            raise self._lost() from error

    def close(self) -> None:
        """Close; a port that is gone counts as closed."""
        try:
            self._serial.close()
        except _LOST:
            return

    def _lost(self) -> InstrumentError:
        return InstrumentError(f"{self._name} is lost: plug it in again, it is looked for by the same path")


def _opened(settings: PortSettings) -> serial.Serial:
    scheme, has_scheme, _ = settings.port.partition("://")
    if has_scheme and scheme.lower() not in {"loop", "socket"}:
        raise ValueError("only socket:// and loop:// may stand before ://")
    bits, parity, stop_bits = _frame(settings.frame)
    port = serial.serial_for_url(
        settings.port,
        do_not_open=True,
        baudrate=settings.baud,
        bytesize=bits,
        parity=parity,
        stopbits=stop_bits,
        timeout=POLL_S,
        write_timeout=1.0,
        exclusive=True,
    )
    if settings.dtr is not None:
        port.dtr = settings.dtr
    if settings.rts is not None:
        port.rts = settings.rts
    port.open()
    return port


def _frame(frame: str) -> tuple[int, str, float]:
    """Bits, parity and stop bits of a text like 8N1."""
    if len(frame) != 3 or frame[0] not in "78" or frame[1].upper() not in "NEO" or frame[2] not in "12":
        raise ValueError(f"{clean(frame, 10)} is no frame: say 8N1, 7E1 or the like")
    return int(frame[0]), frame[1].upper(), float(frame[2])


def _reason(error: Exception) -> str:
    """What a person can do about a port that does not open."""
    number = getattr(error, "errno", None)
    if number == errno.ENOENT:
        return "there is no such port"
    if number in {errno.EACCES, errno.EPERM}:
        return "no permission, or another program has it (on Linux join the group that owns it, often dialout)"
    if number in {errno.EAGAIN, errno.EBUSY}:
        return "another program has it"
    return clean(str(error), 160)


class Listening:
    """The dialogue with an instrument that prints by itself: silence on our side."""

    def __init__(self) -> None:
        self._cutter = LineCutter()

    def begin(self, wire: Wire) -> None:  # noqa: ARG002 - the shape of a dialogue
        """Forget the rest of a line from before."""
        self._cutter = LineCutter()

    def lines(self, wire: Wire) -> list[bytes]:
        """Return the lines that came."""
        return self._cutter.feed(wire.read())


class SerialSource:
    """A source behind a port. `on_news` is called from the worker's thread, once until `latest` is read."""

    def __init__(
        self,
        settings: PortSettings,
        want: Want | None = None,
        *,
        on_news: Callable[[], None] = nobody,
        dialogue: Dialogue | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._settings = settings
        self._dialogue = dialogue or Listening()
        self._stream = Stream(want or Want())
        self._board = Board(on_news)
        self._clock = clock
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin to read, in a thread of its own."""
        if self._thread is not None:
            return
        self._ending = threading.Event()  # its own for each thread: one that was told to end must never wake up again
        self._thread = threading.Thread(target=self._work, args=(self._ending,), name="serial source", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End the thread, which closes the port. One that still waits for a far socket ends by itself later."""
        if self._thread is None:
            return
        self._ending.set()
        self._thread.join(timeout=1.0)
        self._thread = None

    def latest(self) -> Live | None:
        """Tell how it stands now; reading it allows the next wake."""
        return self._board.latest()

    def window(self) -> tuple[Sample, ...]:
        """Return the values of the last seconds."""
        return self._board.window()

    def _work(self, ending: threading.Event) -> None:
        while not ending.is_set():
            try:
                self._read_until_lost(ending)
            except InstrumentError as error:
                self._board.clear()
                self._post(self._stream.lost(self._clock(), str(error)))
                ending.wait(RETRY_S)

    def _read_until_lost(self, ending: threading.Event) -> None:
        port = Port(self._settings)
        try:
            if ending.is_set():  # a far socket may have taken its time
                return
            self._dialogue.begin(port)
            self._post(self._stream.opened(self._clock()))
            while not ending.is_set():
                self._turn(port)
        finally:
            port.close()

    def _turn(self, port: Port) -> None:
        lines = self._dialogue.lines(port)
        if lines:
            self._post(self._stream.lines(lines, self._clock()))
        self._post(self._stream.quiet(self._clock()))

    def _post(self, news: News | None) -> None:
        if news is not None:
            self._board.post(news.live, news.samples)
