"""The hazards that a procedure may name, and the usual cautions for each.

The cautions are common practice, no source: what is usually said beforehand. They are no training and no rule of
electrical safety, and each says who has the last word.
"""

_LAST_WORD = "Local codes and licensed practice come first; if in doubt, leave the work to somebody qualified."

CAUTIONS: dict[str, str] = {
    "mains": (
        "Parts of this set carry mains voltage. Unplug before you reach in or clip anything on; switching off is not "
        "enough. Suspect old mains-filter and coupling capacitors, mains leads and fuses before the first switch-on. "
        "Never leave a warming set alone, and do not work alone."
    ),
    "high-tension": (
        "This set carries high tension, and cores, trimmers and padders may carry it too. Use an insulated tool and "
        "one hand, and keep the other away from the chassis. Before anything is clipped on: switch off, unplug, "
        "discharge through a resistor, prove dead with a meter, connect, then power."
    ),
    "live-chassis": (
        "The chassis of this set may be joined to the mains. Use an isolating transformer before any earthed "
        "generator, counter or computer is connected: a variable autotransformer is none, and a residual-current "
        "device does not protect on the transformer's secondary. Take signals in and out through capacitors rated for "
        "the voltage. Touch no chassis, spindle or grub screw."
    ),
    "stored-charge": (
        "Capacitors keep their charge after the set is switched off and unplugged. Discharge them through a resistor, "
        "never with a screwdriver, and prove them dead with a meter each time before you touch or connect anything."
    ),
    "hot-valves": (
        "Valves, rectifiers and dropper resistors are hot enough to burn skin and to melt leads long after switching "
        "off. Keep hand, tool and cable away from them, and let them cool before you take them out. Valves are glass "
        "under vacuum."
    ),
    "asbestos": (
        "This set may hold asbestos: pads, linings, boards or sleeves near hot parts. Do not drill, brush, blow or "
        "break them, and do not breathe the dust. Leave taking them out, and getting rid of them, to those who are "
        "licensed for it."
    ),
    "radium-dial": (
        "Dial or pointer may carry radium paint, which stays radioactive when it no longer glows. Do not scrape, wet "
        "or sand it, do not eat or drink beside it, and wash your hands. Leave loose or flaking paint, and getting rid "
        "of it, to those who are licensed for it."
    ),
    "radiating-oscillator": (
        "The oscillator of this set can radiate from the aerial and disturb other services. Disconnect the aerial, and "
        "never radiate the generator: couple it through a dummy aerial or a screened lead, as weakly as will do."
    ),
}

KNOWN_HAZARDS: tuple[str, ...] = tuple(CAUTIONS)


def cautions(hazard: str) -> str:
    """What to have confirmed for one hazard of a procedure, known or in the author's own words."""
    known = CAUTIONS.get(hazard)
    own = f"The procedure warns: {hazard.rstrip('.')}. Do not go on before you know how to work safely with it."
    return f"{known or own} {_LAST_WORD}"
