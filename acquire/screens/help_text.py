"""Help in the words of the trade: what each page is for, what words and signs mean."""

from __future__ import annotations

PAGES: dict[str, tuple[str, ...]] = {
    "ready": (
        "Choose the rig, the rated curve and the method; each line says what it is now. A letter"
        " in brackets is the key that changes its line.",
        "Without a rated curve the unit is measured, but not judged.",
        "A plate may be typed for the rated curve, with its speeds: 45/90A 14V @1500/6000.",
        "Tick the wiring of this very unit. The drive cannot be started before everything above"
        " is there; the first line says what is missing.",
        "The zero of the current sensor is read before anything turns, and taken off.",
    ),
    "sweep": (
        "The first line says what happens, which reading is waited for, and how long about.",
        "h holds this speed 30 s longer. t takes the reading as it stands: what had not settled"
        " widens its doubt. k leaves this speed out; the verdict cannot be a pass then.",
        "Large words are for your hands: MORE LOAD, OPEN THE PILE, THROTTLE TO 1200.",
        "A typed reading is asked for twice, some seconds apart; equal within tolerance counts as"
        " steady. Write decimals with a point.",
        "limits: how near each limit is. When one is passed the rig is brought to rest.",
    ),
    "result": (
        "allowed: what the rule still accepts at that speed. sure: the chance that the unit meets"
        " it, doubt counted.",
        "The light wash about the curve is where it may lie, with 95 % confidence.",
        "Undecided always says what to do next. n goes on with the next unit on the same rig.",
    ),
    "past tests": (
        "Type / and a part of a serial, job, unit, date or outcome. More exactly: serial:SF90"
        " job:J-10 unit:ferry rated:90 stage:before outcome:fail since:2026-11 until:2026"
        " only:real. All that is typed must be true of a run. Enter opens it.",
        "b shows a run beside the one before or after the rebuild that belongs to it; & marks"
        " that one. c marks any run; with a second one both curves and the change are shown.",
    ),
    "match": (
        "Type what is known of the engine; answers come as you type.",
        "Ratio = engine pulley / alternator pulley, by pitch diameters. Outside diameters are off"
        " by several percent.",
    ),
    "instruments": (
        "What each port sent and got, how often it failed, and who the instruments say they are.",
        "not asked in time: a question fell out because the answer before it took too long. Now and"
        " then is harmless; many mean that the instrument cannot answer as often as every_s asks.",
    ),
}
WORDS: tuple[tuple[str, str], ...] = (
    ("= still", "settled: over the next seconds it will not move by more than the tolerance"),
    ("^ rising", "by how much in the next 10 s; v falling likewise"),
    (". level", "nothing is held just now, and the value hardly changes"),
    ("~ hunting", "up and down; noisy: a longer look is needed"),
    ("! stale 3 s", "no fresh reading for so long; no old value is shown as if it were live"),
    ("±", "95 % doubt of a reading: scatter, instrument, zero, speed, voltage"),
    (
        "= above",
        "the point is allowed with all its doubt, and, where a cold run meets a warm rating, with"
        " what heat takes; ! below: it is not allowed",
    ),
    (
        "~ close",
        "what is allowed lies inside its doubt; ~ voltage: it was not the test voltage;"
        " ~ moving: the reading had not settled; ~ cold: enough cold, heat may take it below",
    ),
    (
        "points",
        "the filled one is a reading, the dotted one (or ?) a reading that had not settled, the"
        " diamond (or X) is where the unit is now",
    ),
)
KEYS: tuple[tuple[str, str], ...] = (
    ("space", "STOP, always, at once, from every page, also while you type"),
    ("?", "this page"),
    ("f", "writes the view to a text and an SVG file"),
    ("l", "light or dark, on this page"),
    ("Esc", "back"),
)
MOUSE = (
    "Every word with a bracket can be clicked. To mark and copy text, hold Shift while you drag,"
    " or start with --no-mouse."
)
SAFETY = (
    "This program is no safety device. A stop takes the field off where the rig allows it, then"
    " the drive, then waits for the shaft, then sheds the load."
)
