"""Two adjusters, two points, each touched once.

In terms of y = 1/f^2 a coil multiplies by one factor k at every point and a trimmer across the coil (or any trimmer
where there is no padder) adds one amount d at every point, whatever the tuning law: Y = k y + d. Two readings and two
targets give both. So the first adjuster is turned to a half-way aim, not to the target; then the second, at the other
point, to its target, and the first point has come right by itself.
"""

from dataclasses import dataclass

from aligner.errors import CircuitError


@dataclass(frozen=True, slots=True)
class ExactPair:
    """What the two adjusters have to do: Y = factor * y + shift.

    Attributes
    ----------
    factor : float [1]
        k: new inductance over old.
    shift_s2 : float [s^2]
        d: 4 pi^2 L_new times the change of trimmer.
    """

    factor: float
    shift_s2: float

    def coil_aim_hz(self, resonance_hz: float) -> float:
        """Where to stop with the coil when it is turned first: 1 / sqrt(k y).

        Parameters
        ----------
        resonance_hz : float [Hz]
            Resonance read at the point, before anything is turned.

        Returns
        -------
        float [Hz]
            Half-way aim at that point. Source: derived, see the module.
        """
        return float(resonance_hz / self.factor**0.5)

    def trimmer_aim_hz(self, resonance_hz: float) -> float:
        """Where to stop with the trimmer when it is turned first: 1 / sqrt(y + d/k).

        Parameters
        ----------
        resonance_hz : float [Hz]
            Resonance read at the point, before anything is turned.

        Returns
        -------
        float [Hz]
            Half-way aim at that point. Source: derived; with the old coil the trimmer's share is d/k.

        Raises
        ------
        CircuitError
            Where no capacitance would be left.
        """
        y = 1 / resonance_hz**2 + self.shift_s2 / self.factor
        if y <= 0:
            message = (
                f"the trimmer cannot come first at {resonance_hz:.6g} Hz, no capacitance is left; turn the coil first"
            )
            raise CircuitError(message)
        return float(y**-0.5)

    def target_hz(self, resonance_hz: float) -> float:
        """Where a resonance ends when both adjusters are right: 1 / sqrt(k y + d).

        Parameters
        ----------
        resonance_hz : float [Hz]
            Resonance before anything is turned, at any point of the tuning.

        Returns
        -------
        float [Hz]
            Resonance afterwards. Source: derived, see the module.
        """
        return float((self.factor / resonance_hz**2 + self.shift_s2) ** -0.5)

    def trimmer_change_f(self, inductance_h: float) -> float:
        """The change of the trimmer, where the coil's final inductance is known: d / (4 pi^2 L).

        Parameters
        ----------
        inductance_h : float [H]
            Inductance after the coil is set.

        Returns
        -------
        float [F]
            Change of capacitance. Source: y = 4 pi^2 L C.
        """
        return self.shift_s2 / (39.47841760435743 * inductance_h)


def exact_pair(found_hz: tuple[float, float], wanted_hz: tuple[float, float]) -> ExactPair:
    """k = (Y1 - Y2) / (y1 - y2) and d = Y1 - k y1, from readings at two points and what they shall become.

    Parameters
    ----------
    found_hz : (float, float) [Hz]
        Resonances read at the two points.
    wanted_hz : (float, float) [Hz]
        Resonances wanted at the same two points.

    Returns
    -------
    ExactPair [-]
        Factor and shift. Valid for a trimmer across the coil, or for a circuit without padder. Source: derived.

    Raises
    ------
    CircuitError
        Where the points give no answer: equal readings, or readings in the opposite order to the targets.
    """
    (first, second), (aim, other_aim) = ((a**-2.0, b**-2.0) for a, b in (found_hz, wanted_hz))
    factor = (aim - other_aim) / (first - second) if first != second else 0.0
    if not factor > 0:
        message = (
            f"readings {found_hz[0]:.6g} and {found_hz[1]:.6g} Hz cannot become {wanted_hz[0]:.6g} and "
            f"{wanted_hz[1]:.6g} Hz with coil and trimmer; read both points again"
        )
        raise CircuitError(message)
    return ExactPair(factor, aim - factor * first)


def coil_overshoot(found_hz: float, other_wanted_hz: float) -> float:
    """Coil travel over travel to its peak, when the trimmer has been peaked at the other point: 1 / (1 - Y2/y1).

    With y2 = Y2 the pair's k - 1 = (Y1 - y1) / (y1 - Y2), while the peak is reached at Y1/y1 - 1 = (Y1 - y1) / y1.

    Parameters
    ----------
    found_hz : float [Hz]
        Resonance at the coil's point before the coil is touched (y1).
    other_wanted_hz : float [Hz]
        Target at the other point, where the trimmer stands at its peak (Y2).

    Returns
    -------
    float [1]
        Whole change of inductance over the change that brings the peak; negative means the opposite way.
        Source: derived.
    """
    return _overshoot((found_hz / other_wanted_hz) ** 2)


def trimmer_overshoot(wanted_hz: float, other_wanted_hz: float) -> float:
    """Trimmer travel over travel to its peak, when the coil has been peaked at the other point: 1 / (1 - Y1/Y2).

    With y2 = Y2 the trimmer's share before the coil follows is d/k = (Y1 - y1) Y2 / (Y2 - Y1), and its peak Y1 - y1.

    Parameters
    ----------
    wanted_hz : float [Hz]
        Target at the trimmer's point (Y1).
    other_wanted_hz : float [Hz]
        Target at the other point, where the coil stands at its peak (Y2).

    Returns
    -------
    float [1]
        Whole change of capacitance over the change that brings the peak; negative means the opposite way.
        Source: derived.
    """
    return _overshoot((other_wanted_hz / wanted_hz) ** 2)


def _overshoot(ratio: float) -> float:
    if ratio == 1:
        message = "the two points are the same in frequency; take points further apart"
        raise CircuitError(message)
    return 1 / (1 - ratio)
