"""Tracking error at a point and over a band.

Signs, once and for all: tracking error = signal circuit's resonance - frequency received there (positive: the circuit
is too high and wants more L or C); oscillator error = measured - wanted oscillator frequency. Published figures differ:
seen from the oscillator at the signal circuit's resonance the sign is the opposite.
"""

from dataclasses import dataclass

import numpy as np

from aligner.circuits.reals import Array, Reals
from aligner.circuits.resonance import loss_db
from aligner.circuits.superhet import Side, oscillator_hz, received_hz
from aligner.circuits.tank import TunedCircuit


def tracking_error_hz(signal_hz: Reals, oscillator_hz: Reals, intermediate_hz: float, side: Side) -> Reals:
    """Signal circuit's resonance - frequency received, both at one place of the tuning.

    Parameters
    ----------
    signal_hz : float or array (n,) [Hz]
        Resonance of the signal circuit.
    oscillator_hz : float or array (n,) [Hz]
        Oscillator frequency at the same place.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.

    Returns
    -------
    float or array (n,) [Hz]
        Tracking error, positive where the signal circuit is too high. Source: definition, see the module.
    """
    return signal_hz - received_hz(oscillator_hz, intermediate_hz, side)


def oscillator_error_hz(measured_hz: Reals, wanted_received_hz: Reals, intermediate_hz: float, side: Side) -> Reals:
    """Measured - wanted oscillator frequency.

    Parameters
    ----------
    measured_hz : float or array (n,) [Hz]
        Oscillator frequency as measured.
    wanted_received_hz : float or array (n,) [Hz]
        What shall be received there.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.

    Returns
    -------
    float or array (n,) [Hz]
        Oscillator error, positive where the oscillator is too high. Source: definition, see the module.
    """
    return measured_hz - oscillator_hz(wanted_received_hz, intermediate_hz, side)


@dataclass(frozen=True, slots=True)
class TrackingCurve:
    """Tracking error along the tuning.

    Attributes
    ----------
    received_hz : array (n,) [Hz]
        Frequency received at each place.
    error_hz : array (n,) [Hz]
        Tracking error there.
    """

    received_hz: Array
    error_hz: Array

    @property
    def detuning(self) -> Array:
        """Relative detuning: error / frequency received, array (n,) [1]."""
        return self.error_hz / self.received_hz

    def loss_db(self, quality: float) -> Array:
        """What the tracking error costs in level.

        Parameters
        ----------
        quality : float [1]
            Loaded Q of the signal circuit, taken as constant over the band.

        Returns
        -------
        array (n,) [dB]
            Loss, zero or positive. Source: the universal resonance curve.
        """
        return loss_db(self.received_hz, self.received_hz + self.error_hz, quality)

    def worst(self) -> tuple[float, float]:
        """The place of the largest relative detuning.

        Returns
        -------
        (float, float) [Hz]
            Frequency received, and tracking error there with its sign.
        """
        at = int(np.argmax(np.abs(self.detuning)))
        return float(self.received_hz[at]), float(self.error_hz[at])


def tracking_curve(
    signal: TunedCircuit, oscillator: TunedCircuit, tuning_f: Array, intermediate_hz: float, side: Side
) -> TrackingCurve:
    """Tracking error of two circuits on one tuning element (or two equal ones) along its travel.

    Parameters
    ----------
    signal : TunedCircuit [-]
        The signal circuit.
    oscillator : TunedCircuit [-]
        The oscillator circuit.
    tuning_f : array (n,) [F]
        Capacitance of each section, along the tuning.
    intermediate_hz : float [Hz]
        Intermediate frequency.
    side : "above" or "below" [-]
        Where the oscillator stands.

    Returns
    -------
    TrackingCurve [-]
        Frequency received and error, (n,) each. Source: definition, see the module.
    """
    received = received_hz(oscillator.resonance_hz(tuning_f), intermediate_hz, side)
    return TrackingCurve(received, signal.resonance_hz(tuning_f) - received)
