"""What people type and read at a bench: "98,412 MHz", "455k", "1 1/4 turn", and back.

Inside the program everything is SI; a unit appears only here, where people read and write.
"""

from aligner.quantity.shown import show
from aligner.quantity.slipped import Slip, slip_named, slips
from aligner.quantity.typed import Understood, parse
from aligner.quantity.units import UnitName

__all__ = ["Slip", "Understood", "UnitName", "parse", "show", "slip_named", "slips"]
