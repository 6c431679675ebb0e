"""Two-point and three-point tracking in closed form.

The circuit of the higher frequency needs the smaller range of capacitance, so it takes the padder (or the larger
trimmer): the oscillator where it stands above the signal, the signal circuit where the oscillator stands below. "plain"
is the circuit with the bare tuning element, "padded" the other.
"""

from dataclasses import dataclass

from aligner.circuits.reals import Reals
from aligner.circuits.superhet import Side, capacitance_ratio, oscillator_hz
from aligner.circuits.tank import Across, TunedCircuit, capacitance_for_f
from aligner.errors import CircuitError


@dataclass(frozen=True, slots=True)
class Design:
    """Two circuits that track at chosen points.

    Attributes
    ----------
    signal : TunedCircuit [-]
        The signal circuit.
    oscillator : TunedCircuit [-]
        The oscillator circuit.
    """

    signal: TunedCircuit
    oscillator: TunedCircuit


def two_point_padder(low_hz: float, high_hz: float, intermediate_hz: float, side: Side, gang_max_f: float) -> Design:
    """A series padder alone, right at both ends: P = c_max c_min (R - 1) / (c_max - R c_min), R = padded C_max/C_min.

    Parameters
    ----------
    low_hz : float [Hz]
        Lower end of the band received.
    high_hz : float [Hz]
        Upper end of the band received.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.
    gang_max_f : float [F]
        Whole capacitance of the plain circuit at the lower end.

    Returns
    -------
    Design [-]
        Both circuits. Source: derived from series connection; the same formula in Scilab Textbook Companion 1409,
        examples 8.5 and 8.14.
    """
    plain, padded, gang_min_f = _ends(low_hz, high_hz, intermediate_hz, side, gang_max_f)
    ratio = capacitance_ratio(*padded)
    padder_f = gang_max_f * gang_min_f * (ratio - 1) / (gang_max_f - ratio * gang_min_f)
    bare = TunedCircuit(capacitance_for_f(plain[0], gang_max_f), 0.0)
    shape = TunedCircuit(1.0, 0.0, padder_f)
    return _by_role(bare, _with_coil(shape, padded[0], gang_max_f), side)


def two_point_trimmer(low_hz: float, high_hz: float, intermediate_hz: float, side: Side, gang_max_f: float) -> Design:
    """A larger trimmer alone, right at both ends: t = (c_max - R c_min) / (R - 1), R = padded C_max/C_min.

    Parameters
    ----------
    low_hz : float [Hz]
        Lower end of the band received.
    high_hz : float [Hz]
        Upper end of the band received.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.
    gang_max_f : float [F]
        Whole capacitance of the plain circuit at the lower end.

    Returns
    -------
    Design [-]
        Both circuits; the trimmer is that of the other circuit beyond the plain one's. Source: derived; the same
        formula in Scilab Textbook Companion 1409, example 8.16.
    """
    plain, padded, gang_min_f = _ends(low_hz, high_hz, intermediate_hz, side, gang_max_f)
    ratio = capacitance_ratio(*padded)
    bare = TunedCircuit(capacitance_for_f(plain[0], gang_max_f), 0.0)
    shape = TunedCircuit(1.0, (gang_max_f - ratio * gang_min_f) / (ratio - 1))
    return _by_role(bare, _with_coil(shape, padded[0], gang_max_f), side)


def _ends(
    low_hz: float, high_hz: float, intermediate_hz: float, side: Side, gang_max_f: float
) -> tuple[tuple[float, float], tuple[float, float], float]:
    signal = low_hz, high_hz
    oscillator = oscillator_hz(low_hz, intermediate_hz, side), oscillator_hz(high_hz, intermediate_hz, side)
    if not min(low_hz, oscillator[0]) > 0 or not low_hz < high_hz or not gang_max_f > 0:
        message = f"no superheterodyne receives {low_hz:g} to {high_hz:g} Hz with {intermediate_hz:g} Hz {side}"
        raise CircuitError(message)
    plain, padded = (signal, oscillator) if side == "above" else (oscillator, signal)
    return plain, padded, gang_max_f / capacitance_ratio(*plain)


def _with_coil(shape: TunedCircuit, resonance_hz: float, tuning_f: float) -> TunedCircuit:
    coil_h = shape.inductance_for_h(resonance_hz, tuning_f)
    return TunedCircuit(coil_h, shape.trimmer_f, shape.padder_f, shape.trimmer_across)


def _by_role(plain: TunedCircuit, padded: TunedCircuit, side: Side) -> Design:
    return Design(plain, padded) if side == "above" else Design(padded, plain)


@dataclass(frozen=True, slots=True)
class PaddedLaw:
    """How the padded circuit follows the plain one: G^2 = m2 (F^2 + n2) / (F^2 + l2).

    Attributes
    ----------
    l2 : float [Hz^2]
        Shift in the denominator.
    m2 : float [Hz^2]
        Square of the frequency that the padded circuit nears when the tuning element vanishes.
    n2 : float [Hz^2]
        Shift in the numerator.
    """

    l2: float
    m2: float
    n2: float

    def padded_hz(self, plain_hz: Reals) -> Reals:
        """Resonance of the padded circuit where the plain one resonates at F.

        Parameters
        ----------
        plain_hz : float or array (n,) [Hz]
            Resonance of the plain circuit.

        Returns
        -------
        float or array (n,) [Hz]
            Resonance of the padded circuit. Source: the class's equation.
        """
        square = plain_hz * plain_hz
        padded: Reals = ((square + self.n2) / (square + self.l2) * self.m2) ** 0.5
        return padded

    def plain_hz(self, padded_hz: Reals) -> Reals:
        """Resonance of the plain circuit where the padded one resonates at G.

        Parameters
        ----------
        padded_hz : float or array (n,) [Hz]
            Resonance of the padded circuit.

        Returns
        -------
        float or array (n,) [Hz]
            Resonance of the plain circuit. Source: the class's equation solved for F^2.
        """
        square = padded_hz * padded_hz
        plain: Reals = ((square * self.l2 - self.m2 * self.n2) / (self.m2 - square)) ** 0.5
        return plain


def padded_law(plain_hz: tuple[float, float, float], apart_hz: float) -> PaddedLaw:
    """The law that is right at three points: G = F + apart there.

    a, b2, c3: the symmetric sums of the three points; d = a + 2 f0; l2 = (b2 d - c3) / (2 f0);
    m2 = l2 + f0^2 + a d - b2; n2 = (c3 d + f0^2 l2) / m2.

    Parameters
    ----------
    plain_hz : (float, float, float) [Hz]
        Resonances of the plain circuit at the three points.
    apart_hz : float [Hz]
        f0: how far the padded circuit stands above (positive: the intermediate frequency) or below (negative).

    Returns
    -------
    PaddedLaw [-]
        The three coefficients. Source: F. E. Terman, Radio Engineers' Handbook (McGraw-Hill 1943), padding formulas,
        form from memory; re-derived: (F + f0)^2 (F^2 + l2) - m2 (F^2 + n2) has the roots F1, F2, F3 and -d.
    """
    first, second, third = plain_hz
    a = first + second + third
    b2 = first * second + first * third + second * third
    c3 = first * second * third
    d = a + 2 * apart_hz
    l2 = (b2 * d - c3) / (2 * apart_hz)
    m2 = l2 + apart_hz**2 + a * d - b2
    return PaddedLaw(l2, m2, (c3 * d + apart_hz**2 * l2) / m2)


def three_point(
    received_hz: tuple[float, float, float], intermediate_hz: float, side: Side, plain_h: float, across: Across
) -> Design:
    """Padder, trimmer and coil that track exactly at three points.

    With C0 = 1 / (4 pi^2 L), L the plain circuit's coil: trimmer across the tuning element P = C0 (1/n2 - 1/l2),
    t = C0/l2, L' = L (l2/m2) (P + t)/P; across the coil P = C0/n2, t = C0/(l2 - n2), L' = L (l2/m2) P/(P + t).

    Parameters
    ----------
    received_hz : (float, float, float) [Hz]
        Frequencies received at which tracking shall be exact.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.
    plain_h : float [H]
        Coil of the plain circuit, whose whole capacitance is the tuning element's.
    across : "tuning" or "coil" [-]
        Where the padded circuit's trimmer lies.

    Returns
    -------
    Design [-]
        Both circuits. Source: see `padded_law`.

    Raises
    ------
    CircuitError
        Where no positive padder and trimmer do it.
    """
    first, second, third = received_hz
    shift = 0.0 if side == "above" else intermediate_hz
    law = padded_law((first - shift, second - shift, third - shift), intermediate_hz)
    if not 0 < law.n2 < law.l2 or not law.m2 > 0 or not first > shift:
        message = (
            f"no padder and trimmer track at {first:g}, {second:g}, {third:g} Hz, IF {intermediate_hz:g} Hz {side}"
        )
        raise CircuitError(message)
    plain = TunedCircuit(plain_h, 0.0)
    unit_f2 = capacitance_for_f(1.0, plain_h)  # C0: capacitance times frequency squared
    if across == "tuning":
        padder_f, trimmer_f = unit_f2 * (1 / law.n2 - 1 / law.l2), unit_f2 / law.l2
        coil_h = plain_h * law.l2 / law.m2 * (padder_f + trimmer_f) / padder_f
    else:
        padder_f, trimmer_f = unit_f2 / law.n2, unit_f2 / (law.l2 - law.n2)
        coil_h = plain_h * law.l2 / law.m2 * padder_f / (padder_f + trimmer_f)
    return _by_role(plain, TunedCircuit(coil_h, trimmer_f, padder_f, across), side)
