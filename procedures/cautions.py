"""The usual cautions of this work, shown before hands go to a unit, and the one line beside an instruction.

A procedure cannot remove them. They are reminders for trained people: local codes and licensed practice
come first, and the program can switch nothing off.
"""

from __future__ import annotations

# Common practice, no source.
BEFORE_WORK = (
    "Mains voltage is exposed inside an open amplifier, also at its switch and fuses; local codes and "
    "licensed practice come first.",
    "Capacitors keep a dangerous charge after the mains is switched off: measure it, and discharge it "
    "through a resistor.",
    "Heatsinks and output devices get hot enough to burn, also at idle.",
    "Both test points are live: with a signal or a fault they swing to the full supply rail.",
    "Never connect a meter or instrument input that is earthed to an emitter resistor: it shorts the output "
    "to earth.",
    "Disconnect the speakers, and leave the amplifier without load and without signal.",
    "Clip the meter on, and off, with the mains switched off; a probe that slips destroys the output stage.",
    "This program watches and warns, but it cannot switch anything off: keep the mains switch within reach.",
)

# The situations that are acknowledged by themselves, once in a run, by their names.
SITUATIONS = {
    "first power": (
        "First power-up after a repair: only through a series lamp or a variac with an ammeter, with "
        "speakers and load disconnected. A lamp that stays bright means too much current: switch off, and "
        "do not go on."
    ),
    "lamp removed": (
        "Without the lamp nothing limits the current: what the lamp has held back can destroy the output "
        "stage in a second. Watch the reading, keep a hand at the mains switch."
    ),
    "bridged": (
        "Neither terminal of a bridged output is ground: an earthed probe, a common lead between two outputs "
        "or a speaker's return to chassis shorts one half of it."
    ),
    "earthed": (
        "An instrument on this bench counts as earthed: never put it on an emitter resistor or on either "
        "side of a bridged output. It joins the output to earth."
    ),
    "high voltage": (
        "The rails of this amplifier are at a dangerous voltage, charged capacitors included: one hand, "
        "insulated clips, and local codes and licensed practice come first."
    ),
}
DANGEROUS_VOLTS = 60.0  # one rail, so 120 V between them; common practice, no source

TEST_POINTS = "Both test points are live; use insulated clips and keep one hand away."
CLIPPING = "Clip on and off with the mains switched off; never put an earthed meter input on a test point."
POWER_ON = "Mains is live inside; keep the mains switch within reach and the speakers disconnected."
FIRST_POWER = (
    "First power-up after a repair: a lamp that stays bright means too much current, so switch off again."
)
LAMP_REMOVED = (
    "Without the lamp nothing limits the current: watch the reading, and be ready to switch the mains off."
)
POWER_OFF = (
    "Capacitors stay charged: measure them before you touch anything, and discharge through a resistor."
)
TRIMMING = "Turn slowly with an insulated tool and one hand; both test points are live."
DRIVEN = (
    "With a signal both test points swing to the full supply rail; the dummy load gets hot enough to burn."
)
WARM = "Heatsinks get hot; do not leave the amplifier unwatched."
MOVING_LEAD = "Both test points are live: switch the mains off first, or use insulated hooks and one hand."
LID = "Mind live parts while the lid is moved; switch the mains off if it must touch anything."
UNWATCHED = "The amplifier may be on and unwatched."
"""Said whenever nobody is at the bench, or has been."""
