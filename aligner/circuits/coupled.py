"""Two tuned circuits with mutual inductance, exactly: for what lies far from resonance."""

import math
from dataclasses import dataclass

import numpy as np

from aligner.circuits.reals import Array
from aligner.circuits.response import Complex


@dataclass(frozen=True, slots=True)
class CoupledCircuits:
    """A double-tuned transformer, each winding with its capacitor across it.

    Attributes
    ----------
    inductances_h : (float, float) [H]
        Primary and secondary.
    capacitances_f : (float, float) [F]
        Capacitors across them.
    coefficient : float [1]
        Coupling coefficient k = M / sqrt(L1 L2).
    losses_ohm : (float, float) [ohm]
        Resistance in series with each winding.
    loads_ohm : (float, float) [ohm]
        Resistance across each circuit: source and load, or a swamping resistor; infinite for none.
    """

    inductances_h: tuple[float, float]
    capacitances_f: tuple[float, float]
    coefficient: float
    losses_ohm: tuple[float, float] = (0.0, 0.0)
    loads_ohm: tuple[float, float] = (math.inf, math.inf)

    def transfer_ohm(self, frequency_hz: Array) -> Complex:
        """Transfer impedance: voltage across the secondary for 1 A into the primary.

        Parameters
        ----------
        frequency_hz : array (n,) [Hz]
            Frequencies.

        Returns
        -------
        array (n,) of complex [ohm]
            Impedance; its sign depends on the sense of the windings. Source: nodal analysis; the windings'
            admittances are the inverse of [[r1 + jwL1, jwM], [jwM, r2 + jwL2]].
        """
        omega = 2 * math.pi * frequency_hz
        mutual = 1j * omega * self.coefficient * math.sqrt(self.inductances_h[0] * self.inductances_h[1])
        first, second = (
            loss + 1j * omega * inductance for loss, inductance in zip(self.losses_ohm, self.inductances_h, strict=True)
        )
        whole = first * second - mutual * mutual
        shunts = (
            1j * omega * capacitance + 1 / load
            for capacitance, load in zip(self.capacitances_f, self.loads_ohm, strict=True)
        )
        shunt_one, shunt_two = shunts
        one, two, across = shunt_one + second / whole, shunt_two + first / whole, -mutual / whole
        transfer: Complex = -across / (one * two - across * across)
        return transfer

    def level_db(self, frequency_hz: Array) -> Array:
        """Level of the transfer impedance against 1 ohm.

        Parameters
        ----------
        frequency_hz : array (n,) [Hz]
            Frequencies.

        Returns
        -------
        array (n,) [dB]
            20 lg |Z|. Source: definition.
        """
        level: Array = 20 * np.log10(np.abs(self.transfer_ohm(frequency_hz)))
        return level
