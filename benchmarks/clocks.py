"""How often the clock test names the right clock: simulated prints on generated tapered, stepped and constant parts.

15 % of marks missed, two false, 0.15 mm reading error; the source's period is such that it acts 10–35 times. A third
each in height, seconds and filament; rhythms in path length, which no part of a machine counts, apart.

Run: python benchmarks/clocks.py [parts of each kind] [prints a part] [seed]
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from beadwright.diagnosis.clock_maps import PrintClocks
from beadwright.diagnosis.clocks import ClockTest, clock_test
from specimens.marked import KINDS, marks_on, part, span_of, timeline_of

CLOCKS = ("z", "s", "filament", "path")
EVENTS = (10, 35)


def answers(kind: str, parts: int, prints: int, seed: int) -> list[tuple[str, float, ClockTest, float]]:
    """Return (true clock, true period, test, seconds of work) for `prints` prints of each of `parts` parts."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    found = []
    for _ in range(parts):
        timeline = timeline_of(part(kind, rng))
        clocks = PrintClocks.of(timeline)
        assert clocks is not None
        for number in range(prints):
            clock = CLOCKS[number % len(CLOCKS)]
            low, high = span_of(timeline, clock)
            period = (high - low) / rng.uniform(*EVENTS)
            marks = marks_on(timeline, clock, period, rng)
            start = time.perf_counter()
            test = clock_test(marks, clocks)
            found.append((clock, period, test, time.perf_counter() - start))
    return found


def report(kind: str, found: list[tuple[str, float, ClockTest, float]]) -> None:
    print(f"\n{kind}: {len(found)} prints")
    named: dict[str, Counter[str]] = {clock: Counter() for clock in CLOCKS}
    verdicts: dict[str, Counter[str]] = {clock: Counter() for clock in CLOCKS}
    for clock, _, test, _ in found:
        named[clock][test.best.clock if test.best else "none"] += 1
        verdicts[clock][_verdict(clock, test)] += 1
    print("  true clock   likeliest clock: " + "".join(f"{c:>10}" for c in CLOCKS) + "   answer given")
    for clock in CLOCKS:
        row = "".join(f"{named[clock][c]:10d}" for c in CLOCKS)
        print(
            f"  {clock:<10}                    {row}   "
            + ", ".join(f"{v} {n}" for v, n in sorted(verdicts[clock].items()))
        )
    real = [one for one in found if one[0] != "path"]
    right = np.mean([test.best is not None and test.best.clock == clock for clock, _, test, _ in real])
    given = Counter(_verdict(clock, test) for clock, _, test, _ in real)
    told = given["told right"] + given["told wrong"]
    print(f"  height, seconds, filament: likeliest is right {100 * right:.1f} %; told {100 * told / len(real):.0f} %, "
          f"of these right {100 * given['told right'] / max(told, 1):.1f} %")  # fmt: skip
    off = [
        abs(test.best.period / period - 1) for clock, period, test, _ in real if test.best and test.best.clock == clock
    ]
    pulls = [
        (test.best.period - period) / test.best.u
        for clock, period, test, _ in real
        if test.best and test.best.clock == clock and abs(test.best.period / period - 1) < 0.05
    ]
    print(f"  period within 2 %: {100 * np.mean(np.array(off) < 0.02):.1f} %; (period − truth) / u spreads by "
          f"{np.std(pulls):.2f}; {1000 * np.median([one[3] for one in found]):.0f} ms a test")  # fmt: skip


def _verdict(clock: str, test: ClockTest) -> str:
    if test.verdict == "told" and test.best is not None:
        if clock in test.best.alike:
            return "told as the same here"
        return "told right" if test.best.clock == clock else "told wrong"
    if test.verdict == "open":
        return (
            "open, truth in play"
            if any(clock in (one.clock, *one.alike) for one in test.in_play)
            else "open, truth out"
        )
    return "not enough"


def false_alarms(prints: int = 300) -> None:
    """Marks without any rhythm: how often is one seen?"""
    rng = np.random.default_rng(11)
    clocks = PrintClocks.of(timeline_of(part("tapered", rng)))
    assert clocks is not None
    for count in (8, 14, 25):
        tests = [clock_test(rng.uniform(2, clocks.z[-1] - 2, count), clocks) for _ in range(prints)]
        seen = sum(test.verdict in ("told", "open") for test in tests)
        print(f"  {count} marks strewn: a rhythm is seen in {seen} of {prints}")


def main() -> None:
    given = [int(word) for word in sys.argv[1:4]]
    parts, prints, seed = given + [10, 20, 7][len(given) :]
    for kind in KINDS:
        report(kind, answers(kind, parts, prints, seed))
    print("\nno rhythm:")
    false_alarms()


if __name__ == "__main__":
    main()
