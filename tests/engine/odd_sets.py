"""Procedures that are sound, and of shapes that nobody thinks of first."""

from tests.small_sets import (
    AIR_AND_TRIMMER,
    COIL_AND_TRIMMER,
    FM,
    MW,
    MW_PLACES,
    MW_POINTS,
    PADDED_MORE,
    THREE,
    circuit,
    coverage,
    fm_head,
    gang_head,
    oscillator,
    prepare,
    read_back,
    tracking,
)

_PAIR = oscillator() + circuit("antenna")
_FM = fm_head() + _PAIR
_CORE, _TRIMMER = COIL_AND_TRIMMER[:1], COIL_AND_TRIMMER[1:]
_SECOND = (("second", "parallel", "piston-trimmer"),)
_PADDED = oscillator(THREE, PADDED_MORE) + circuit("antenna")
_MIDDLE = '{ volts = "4 V", received = "97 MHz" }'
_SHARED = '[[adjuster]]\nid = "common"\ncircuits = [{0}]\ndoes = "parallel"\nkind = "piston-trimmer"\n'
_FARADS = {525: 365, 700: 199, 1000: 92, 1300: 48, 1620: 25}
_ROWS = str([[f"{khz} kHz", f"{picofarad} pF"] for khz, picofarad in _FARADS.items()])
_LONG = tuple(f'{{ dial = "{khz} kHz" }}' for khz in (160, 200, 260))
_SHORT = tuple(f'{{ dial = "{mhz} MHz" }}' for mhz in (6.5, 11, 16.5))
_TWO_BANDS = gang_head('["525 kHz", "1620 kHz"]').replace(
    "[tuning]", '[[band]]\nid = "long"\nrange = ["150 kHz", "280 kHz"]\n[tuning]'
)


def _of(band: str, text: str) -> str:
    """The circuits of a text on one band only."""
    return text.replace('role = "', f'bands = ["{band}"]\nrole = "')


_TWO = (
    _TWO_BANDS
    + _of("own", _PADDED)
    + _of(
        "long",
        oscillator()
        .replace('"oscillator', '"long-oscillator')
        .replace('role = "long-oscillator"', 'role = "oscillator"'),
    )
    + _of("long", circuit("long-antenna"))
    + coverage(MW_PLACES, "2 kHz", 'band = "own"')
    + tracking(MW_POINTS, "5 kHz")
    + 'band = "own"\n'
    + coverage(_LONG, "1 kHz", 'band = "long"').replace('id = "coverage"', 'id = "long-coverage"')
    + tracking(("160 kHz", "260 kHz"), "2 kHz", of="long-antenna")
    + 'band = "long"\n'
)

ODD: dict[str, str] = {
    "plain": FM,
    "padded": MW,
    "oscillator below": fm_head("below") + _PAIR + coverage() + tracking(),
    "counter shows what is received": fm_head(counter='shows = "received"') + _PAIR + coverage() + tracking(),
    "counter with an offset of its own": fm_head(counter='shows = "received"\noffset = "10.65 MHz"')
    + _PAIR
    + coverage()
    + tracking(),
    "huge prescaler": fm_head(counter='shows = "divided"\nprescaler = 100000\ngate = "1 s"')
    + _PAIR
    + coverage()
    + tracking(),
    "short gate": fm_head(counter='shows = "divided"\nprescaler = 1\ngate = "1 ms"') + _PAIR + coverage() + tracking(),
    "two trimmers": fm_head()
    + oscillator()
    + circuit("antenna", (*COIL_AND_TRIMMER, *_SECOND))
    + coverage()
    + tracking(),
    "two coils in the oscillator": fm_head()
    + oscillator((*AIR_AND_TRIMMER, ("core", "inductance", "ferrite-core")))
    + circuit("antenna")
    + coverage()
    + tracking(),
    "one adjuster a circuit": fm_head() + oscillator(_CORE) + circuit("antenna", _TRIMMER) + coverage() + tracking(),
    "one point a step": _FM + coverage((_MIDDLE,)) + tracking(("98 MHz",)),
    "three points and two adjusters": _FM
    + coverage(('{ volts = "2 V", received = "87.5 MHz" }', _MIDDLE))
    + tracking(),
    "tolerance as a loss": _FM + coverage() + tracking(tolerance="0.3 dB"),
    "tolerance that nothing meets": _FM + coverage(tolerance="1 Hz") + tracking(tolerance="1 Hz"),
    "tolerance that everything meets": _FM + coverage(tolerance="10 MHz") + tracking(tolerance="60 dB"),
    "points at the ends of the band": _FM + coverage() + tracking(("87.5 MHz", "108 MHz")),
    "points close together": _FM + coverage() + tracking(("98 MHz", "98.001 MHz")),
    "tracking without coverage": _FM + tracking(),
    "nothing to turn in the oscillator": fm_head() + oscillator(()) + circuit("antenna") + tracking(),
    "a circuit without adjusters": fm_head()
    + oscillator()
    + circuit("antenna")
    + circuit("fixed", ())
    + coverage()
    + tracking(),
    "shared by two signal circuits": _FM
    + circuit("inner", _CORE)
    + _SHARED.format('"antenna", "inner"')
    + coverage()
    + tracking()
    + tracking(of="inner"),
    "shared with the oscillator": _FM + _SHARED.format('"oscillator", "antenna"') + coverage() + tracking(),
    "by level with an air coil": fm_head()
    + oscillator()
    + circuit("antenna", AIR_AND_TRIMMER)
    + coverage()
    + tracking(by='["level"]'),
    "by level with one trimmer": fm_head()
    + oscillator()
    + circuit("antenna", _TRIMMER)
    + coverage()
    + tracking(by='["level"]'),
    "by level at one point": _FM + coverage() + tracking(("98 MHz",), by='["level"]'),
    "one circuit tracked twice": _FM + coverage() + tracking() + tracking().replace('id = "antenna"', 'id = "again"'),
    "only preparations": _FM + prepare("Look.", "Look."),
    "only a read-back": _FM
    + read_back('{ volts = "2 V", received = "87.5 MHz", quantity = "frequency", within = "75 kHz" }'),
    "everything read back": _FM
    + coverage()
    + tracking()
    + read_back(
        '{ point = "98 MHz", quantity = "resonance", circuit = "antenna", within = "200 kHz" }',
        '{ point = "98 MHz", quantity = "level", within = "1 dB" }',
        '{ volts = "5 V", received = "97 MHz", quantity = "volts", within = "0.2 V" }',
    ),
    "trimmer across the coil": MW.replace(PADDED_MORE, 'trimmer-across = "coil"'),
    "gang with a curve": MW.replace('by = "gang"\n', f'by = "gang"\ncurve = {_ROWS}\n'),
    "marks and ends": gang_head()
    + _PADDED
    + coverage(('{ end = "low" }', '{ mark = "dot", received = "1000 kHz" }', '{ end = "high" }'), "2 kHz")
    + tracking(MW_POINTS, "5 kHz"),
    "padder and two points": gang_head()
    + _PADDED
    + coverage((MW_PLACES[0], MW_PLACES[2]), "2 kHz")
    + tracking(MW_POINTS, "5 kHz"),
    "nothing but a padder": gang_head()
    + oscillator(THREE[2:], PADDED_MORE)
    + circuit("antenna", _TRIMMER)
    + coverage(MW_PLACES, "2 kHz")
    + tracking(MW_POINTS, "5 kHz"),
    "long wave": gang_head('["150 kHz", "280 kHz"]')
    + _PADDED
    + coverage(_LONG, "1 kHz")
    + tracking(("160 kHz", "200 kHz", "260 kHz"), "2 kHz"),
    "short wave": gang_head('["6 MHz", "18 MHz"]')
    + _PADDED
    + coverage(_SHORT, "20 kHz")
    + tracking(("6.5 MHz", "11 MHz", "16.5 MHz"), "50 kHz"),
    "two bands": _TWO,
}
