"""Small procedures of many shapes, as texts, for tests of the estimator and the engine. All of them are invented."""

from collections.abc import Sequence
from functools import lru_cache

from aligner.procedure.model import Procedure
from aligner.procedure.reader import parse_procedure

Row = tuple[str, str, str]  # id, does, kind
COIL_AND_TRIMMER: tuple[Row, ...] = (("coil", "inductance", "ferrite-core"), ("trimmer", "parallel", "rotary-trimmer"))
AIR_AND_TRIMMER: tuple[Row, ...] = (("coil", "inductance", "air-coil"), ("trimmer", "parallel", "rotary-trimmer"))
THREE: tuple[Row, ...] = (*COIL_AND_TRIMMER, ("padder", "series", "compression-trimmer"))
FM_ENDS = ('{ volts = "2 V", received = "87.5 MHz" }', '{ volts = "8 V", received = "108 MHz" }')
FM_POINTS = ("90 MHz", "98 MHz", "106 MHz")
MW_PLACES = ('{ dial = "600 kHz" }', '{ dial = "1000 kHz" }', '{ dial = "1400 kHz" }')
MW_POINTS = ("600 kHz", "1000 kHz", "1400 kHz")


def fm_head(side: str = "above", counter: str = 'shows = "oscillator"', more: str = "") -> str:
    """A set for the FM band tuned by voltage."""
    return f"""format = 1
title = "A small set"
{more}
[set]
intermediate = "10.7 MHz"
oscillator = "{side}"
[[band]]
id = "fm"
range = ["87.5 MHz", "108 MHz"]
[tuning]
by = "voltage"
range = ["2 V", "8 V"]
[counter]
{counter}
[meter]
law = "log"
resolution = "0.1 dB"
"""


def gang_head(band: str = '["525 kHz", "1620 kHz"]', law: str = "") -> str:
    """A set tuned by a gang."""
    return f"""format = 1
title = "A small set with a gang"
[set]
intermediate = "455 kHz"
oscillator = "above"
[[band]]
id = "own"
range = {band}
[tuning]
by = "gang"
{law}
[counter]
shows = "oscillator"
"""


def circuit(name: str, rows: Sequence[Row] = COIL_AND_TRIMMER, role: str = "signal", more: str = "") -> str:
    """One circuit; the ids of its adjusters begin with its own."""
    own = f'[[circuit]]\nid = "{name}"\nrole = "{role}"\n{more}\n'
    parts = (f'[[circuit.adjuster]]\nid = "{name}-{i}"\ndoes = "{d}"\nkind = "{k}"\n' for i, d, k in rows)
    return own + "".join(parts)


def oscillator(rows: Sequence[Row] = AIR_AND_TRIMMER, more: str = "") -> str:
    """The oscillator."""
    return circuit("oscillator", rows, "oscillator", more)


def coverage(places: Sequence[str] = FM_ENDS, tolerance: str = "50 kHz", more: str = "") -> str:
    """The step `coverage`."""
    points = ", ".join(places)
    return f'[[step]]\nid = "coverage"\nkind = "coverage"\npoints = [{points}]\ntolerance = "{tolerance}"\n{more}\n'


def tracking(
    points: Sequence[str] = FM_POINTS,
    tolerance: str = "150 kHz",
    by: str = '["resonance", "level"]',
    of: str = "antenna",
) -> str:
    """A step `tracking` named for its circuit."""
    rows = ", ".join(f'"{point}"' for point in points)
    head = f'[[step]]\nid = "{of}"\nkind = "tracking"\ncircuit = "{of}"\n'
    return f'{head}by = {by}\npoints = [{rows}]\ntolerance = "{tolerance}"\n'


def prepare(*things: str) -> str:
    """The step `prepare`."""
    listed = ", ".join(f'"{thing}"' for thing in things)
    return f'[[step]]\nid = "connect"\nkind = "prepare"\nconfirm = [{listed}]\n'


def read_back(*limits: str) -> str:
    """The step `read-back`."""
    return f'[[step]]\nid = "final"\nkind = "read-back"\nlimits = [{", ".join(limits)}]\n'


PADDED_MORE = 'trimmer-across = "tuning"'
FM = fm_head() + oscillator() + circuit("antenna") + coverage() + tracking()
MW = (
    gang_head()
    + oscillator(THREE, PADDED_MORE)
    + circuit("antenna")
    + coverage(MW_PLACES, "2 kHz")
    + tracking(MW_POINTS, "5 kHz")
)


@lru_cache(maxsize=128)
def read(text: str) -> Procedure:
    """The procedure of a text."""
    return parse_procedure(text, "small.toml")
