"""How often is the diagnosis right, and does it know how sure it may be? Virtual prints that were made to fail.

Run: python benchmarks/accuracy.py [--cases 2000] [--inspects 0.67] [--json out.json]

Each case is worked up by the real pipeline twice: from the signs, facts and measured values of a report, and from the
same report told as a story. In the first, checks are then asked and answered by the virtual print until the true cause
stands at 80 %. Bars: first 80 %, first three 95 %, calibration error 0.06, median 3 checks.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from beadwright.case.read import check_case
from beadwright.diagnosis.ask import next_checks
from beadwright.diagnosis.evidence import gather
from beadwright.diagnosis.inputs import Answer, SignObservation, Trial
from beadwright.diagnosis.result import Diagnosis
from beadwright.diagnosis.tables import tables_of
from beadwright.knowledge.load import Knowledge, load_knowledge
from beadwright.virtual.asked import answer
from beadwright.virtual.draw import VirtualCase, draw_case
from beadwright.virtual.observe import Habits, case_of, without_signs
from beadwright.virtual.score import Outcome, calibration_error, log_loss, outcome, reliability, share
from beadwright.virtual.words import story_of
from beadwright.workup import Workup, work_up

SETTLED = 0.8
MOST_CHECKS = 8
CHUNK = 25
Pair = tuple[Outcome, Outcome | None]  # from the report, from the story


def judged(case: VirtualCase, diagnosis: Diagnosis) -> Outcome:
    return outcome(case.number, case.family, case.causes, [(cause.id, cause.probability) for cause in diagnosis.causes])


def from_report(case: VirtualCase, knowledge: Knowledge, asks: bool) -> Outcome:
    """Work up the report, then ask."""
    work = work_up(check_case(case_of(case.told), f"virtual {case.number}"), knowledge=knowledge)
    found = judged(case, work.diagnosis)
    return replace(found, checks=checks_needed(case, work, knowledge)) if asks else found


def checks_needed(case: VirtualCase, work: Workup, knowledge: Knowledge) -> int | None:
    """Ask what the diagnosis would ask next until the true cause stands at 80 %."""
    rng = np.random.default_rng([7, case.number])
    signs = [SignObservation(name, present, sure) for name, present, sure in case.told.signs]
    trials = [Trial(**row) for row in case.told.trials]
    network = tables_of(knowledge).network
    truth = [network.ids.index(name) for name in case.causes if name in network.ids]
    answers: list[Answer] = []
    while True:
        known = gather(knowledge, facts=work.facts, signs=signs, answers=answers, trials=trials, audit=work.audit)
        posterior = network.posterior(known.items)
        if max((float(posterior.root[at]) for at in truth), default=0.0) >= SETTLED:
            return len(answers)
        checks = next_checks(knowledge, known, posterior, 1) if len(answers) < MOST_CHECKS else ()
        if not checks:
            return None
        check = knowledge.checks[checks[0].id]
        result = answer(check.id, check.sign, case.world, case.result, case.seen, rng)
        answers.append(Answer(check.id, result))


def from_story(case: VirtualCase, knowledge: Knowledge) -> Outcome:
    """Work up the same report with its signs told in words."""
    table = case_of(without_signs(case.told))
    table["case"] = {"story": story_of(case.told, np.random.default_rng([11, case.number]))}
    return judged(case, work_up(check_case(table, f"story {case.number}"), knowledge=knowledge).diagnosis)


@cache
def tables() -> Knowledge:
    return load_knowledge()


def run_chunk(numbers: list[int], habits: Habits, asks: bool, stories: bool) -> list[Pair]:
    knowledge = tables()
    found = []
    for number in numbers:
        case = draw_case(number, habits)
        found.append((from_report(case, knowledge, asks), from_story(case, knowledge) if stories else None))
    return found


def run(count: int, habits: Habits, *, asks: bool, stories: bool, processes: int) -> list[Pair]:
    """Return the outcomes of cases 0 … count − 1 in order."""
    chunks = [list(range(at, min(at + CHUNK, count))) for at in range(0, count, CHUNK)]
    if processes == 1:
        return [pair for chunk in chunks for pair in run_chunk(chunk, habits, asks, stories)]
    with ProcessPoolExecutor(processes) as pool:
        jobs = [pool.submit(run_chunk, chunk, habits, asks, stories) for chunk in chunks]
        return [pair for job in jobs for pair in job.result()]


def figures(outcomes: list[Outcome]) -> dict[str, Any]:
    """Return the scores as plain numbers."""
    single = [one for one in outcomes if len(one.true) == 1]
    checks = [one.checks if one.checks is not None else MOST_CHECKS + 1 for one in outcomes]
    confused = Counter((one.true[0], one.leaders[0]) for one in outcomes if not one.right)
    families = sorted({one.family for one in outcomes})
    return {
        "cases": len(outcomes),
        "first": share([one.right for one in outcomes]),
        "first_three": share([one.in_three for one in outcomes]),
        "first_single_cause": share([one.right for one in single]),
        "first_three_single_cause": share([one.in_three for one in single]),
        "calibration_error": calibration_error(outcomes),
        "log_loss_nats": log_loss(outcomes),
        "median_checks": float(np.median(checks)),
        "settled_within_limit": share([one.checks is not None for one in outcomes]),
        "reliability": [asdict(one) for one in reliability(outcomes)],
        "families": {
            name: {
                "cases": sum(one.family == name for one in outcomes),
                "first": share([one.right for one in outcomes if one.family == name]),
                "first_three": share([one.in_three for one in outcomes if one.family == name]),
            }
            for name in families
        },
        "worst_confusions": [[true, said, n] for (true, said), n in confused.most_common(25)],
        "worst_causes": _worst(single),
    }


def _worst(outcomes: list[Outcome]) -> list[list[Any]]:
    by_cause: dict[str, list[Outcome]] = {}
    for one in outcomes:
        by_cause.setdefault(one.true[0], []).append(one)
    rows = [
        [name, len(own), share([o.right for o in own]), share([o.in_three for o in own])]
        for name, own in by_cause.items()
    ]
    return sorted(rows, key=lambda row: (row[3], row[2]))[:25]


def show(title: str, found: dict[str, Any], asks: bool) -> None:
    print(f"\n{title}: {found['cases']} cases")
    print(f"  first {found['first']:.1%}, first three {found['first_three']:.1%}"
          f" (one cause only: {found['first_single_cause']:.1%}, {found['first_three_single_cause']:.1%})")  # fmt: skip
    print(f"  calibration error {found['calibration_error']:.3f}, log loss {found['log_loss_nats']:.2f} nats")
    if asks:
        print(f"  median checks to 80 % on the true cause {found['median_checks']:g}; "
              f"reached within {MOST_CHECKS} in {found['settled_within_limit']:.0%}")  # fmt: skip
    rows = (f"{b['said']:.2f}→{b['came_true']:.2f} ({b['count']})" for b in found["reliability"])
    print("  said → came true: " + ", ".join(rows))
    for name, row in found["families"].items():
        print(f"  {name:13s} {row['cases']:4d}  first {row['first']:.0%}  first three {row['first_three']:.0%}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--inspects", type=float, default=Habits().inspects, help="share of hidden signs looked for")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--no-checks", action="store_true")
    parser.add_argument("--no-stories", action="store_true")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    start, habits = time.perf_counter(), Habits(inspects=options.inspects)
    asks, stories = not options.no_checks, not options.no_stories
    pairs = run(options.cases, habits, asks=asks, stories=stories, processes=options.processes)
    report = figures([one for one, _ in pairs])
    show("from signs and facts", report, asks)
    result = {"inspects": options.inspects, "report": report}
    if stories:
        result["story"] = figures([told for _, told in pairs if told is not None])
        show("from the story", result["story"], False)
    confused = ", ".join(f"{a}/{b} {n}" for a, b, n in report["worst_confusions"][:12])
    print(f"\n  most confused (true/said first): {confused}\n  {time.perf_counter() - start:.0f} s")
    if options.json:
        options.json.write_text(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
