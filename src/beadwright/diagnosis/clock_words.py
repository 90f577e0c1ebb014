"""A clock test in words: what it says, what part acts so, what it would mean, and what to do where it cannot tell."""

from __future__ import annotations

from beadwright.diagnosis.clock_evidence import AT_JUMPS, ClockReading, Match
from beadwright.diagnosis.clock_maps import NAMES, UNITS, RhythmClock
from beadwright.diagnosis.clocks import FEWEST, ClockTest, Rhythm

FITS_LOG = 3.0  # a source within this of the best fit is named
PROOF_PRINT = (
    "a part whose section changes would tell: a cone or wedge that halves its section over 60 mm or more, printed with "
    "the same settings, its marks measured all the way up"
)


def clock_name(rhythm: Rhythm) -> str:
    """Return the clock in words, with those that run alike over these marks."""
    alike = " and ".join(NAMES[clock] for clock in rhythm.alike)
    return NAMES[rhythm.clock] + (f" (the same as {alike} here)" if alike else "")


def period_text(rhythm: Rhythm) -> str:
    """Return the period with its standard error, no more digits than the error carries."""
    return amount(rhythm.period, rhythm.u, rhythm.clock)


def amount(value: float, u: float, clock: RhythmClock) -> str:
    digits = 0 if u >= 1 else 1 if u >= 0.1 else 2 if u >= 0.01 else 3
    return f"{value:.{digits}f} ± {max(u, 10.0**-digits):.{digits}f} {UNITS[clock]}"


def verdict_text(test: ClockTest) -> str:
    """Return the answer in one or two sentences."""
    best = test.best
    if test.verdict == "too coarse":
        return "Not enough to tell: the marks lie too close for how exactly they were read."
    if test.verdict == "too few" or best is None:
        return f"Not enough to tell: {FEWEST} marks within the print are the fewest that can show a rhythm."
    if test.verdict == "no rhythm":
        return (
            "Not enough to tell: on no clock are the marks so even that chance is ruled out "
            f"(chance of as much {chance_text(test.false_alarm)}). More marks, or marks read more closely, would help."
        )
    told = f"Even in {clock_name(best)}, every {period_text(best)} (by chance {chance_text(test.false_alarm)})."
    if test.verdict == "told" and best.clock == "path":
        return f"{told} No part counts path: where spacing drifts a little, filament fed may look so."
    if test.verdict == "told":
        return told
    names = " or ".join(clock_name(one) for one in test.in_play)
    apart = f"over these marks they part by {test.parting:.2f} of a period at most" if test.parting else ""
    return f"There is a rhythm, but these marks cannot tell whether in {names}" + (f": {apart}." if apart else ".")


def chance_text(chance: float) -> str:
    """
    >>> chance_text(0.2), chance_text(0.00123), chance_text(1e-9), chance_text(1.0)
    ('20 %', '0.12 %', 'less than 1 in a million', '100 %')
    """
    if chance < 1e-6:
        return "less than 1 in a million"
    return f"{100 * chance:.0f} %" if chance >= 0.1 else f"{100 * chance:.2g} %"


def advice(test: ClockTest) -> str:
    """Say what would tell, where these marks cannot; else nothing."""
    if test.verdict == "open":
        return PROOF_PRINT[0].upper() + PROOF_PRINT[1:] + "."
    if test.verdict == "too coarse":
        return "Read them to a fifth of their distance or better: in a photo with a scale beside the part."
    if test.verdict in ("too few", "no rhythm"):
        return "Measure every mark over as much height as there is; ten or more, from the bed up, each to 0.1 mm."
    return ""


def fitting(reading: ClockReading) -> tuple[Match, ...]:
    """Return the sources that act as the marks do, best first; none where there is no rhythm."""
    if reading.test.verdict not in ("told", "open"):
        return ()
    clocks = {clock for one in reading.test.in_play for clock in (one.clock, *one.alike)}
    known = [one for one in reading.matches if one.log_ratio is not None and one.log_ratio > 0]
    reached = [*(one.log_ratio for one in reading.test.in_play), *(one.log_ratio for one in known)]
    best = max((ratio for ratio in reached if ratio is not None), default=0.0)
    return tuple(
        one for one in known
        if (one.source.clock in clocks or one.source.is_narrow)
        and one.log_ratio is not None and one.log_ratio > best - FITS_LOG
    )  # fmt: skip


def drift_text(reading: ClockReading) -> str:
    """Say how strength and spacing change; nothing where they do not."""
    drift, parts = reading.drift, []
    if drift.change != "steady":
        way = "fade" if drift.change == "fading" else "grow"
        parts.append(f"the marks {way} along the {NAMES[drift.along]} ({drift.errors:.1f} standard errors)")
        if drift.change == "fading" and drift.along == "filament":
            parts.append("as they do when the outer wraps of the spool are damp")
    if drift.spacing_percent is not None:
        parts.append(f"their spacing changes by {drift.spacing_percent:+.0f} % from the first to the last")
    return ", ".join(parts)


def jumps_text(reading: ClockReading) -> str:
    hits, chance = reading.at_jumps
    if chance > AT_JUMPS:
        return ""
    return (
        f"{hits} marks lie where the file's layer time jumps by a fifth or more (by chance {chance_text(chance)}): "
        "there the part itself may be what shows"
    )


def evidence_text(reading: ClockReading) -> str:
    """Return the ledger's sentence."""
    test = reading.test
    if test.verdict == "open" and test.best is not None:
        names = " or ".join(NAMES[one.clock] for one in test.in_play)
        return f"marks are even, in {names}: this part cannot tell which"
    if test.verdict == "told" and test.best is not None:
        parts = [one.source.part for one in fitting(reading) if one.source.causes][:1]
        return f"marks are even in {NAMES[test.best.clock]}, every {period_text(test.best)}" + (
            f", as {parts[0]} would leave them" if parts else ""
        )
    return "marks are not clearly even on any clock of the print"
