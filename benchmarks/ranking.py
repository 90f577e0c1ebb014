"""Milliseconds per ranking and per list of next checks: synthetic networks of 120 causes, and the real
tables.

Run: python benchmarks/ranking.py
"""

from __future__ import annotations

import time

import numpy as np

from beadwright.diagnosis.items import Evidence, Observation, Shift
from beadwright.diagnosis.network import Network
from beadwright.knowledge.model import Cause

CAUSES, LED, SIGNS = 120, 14, 220


def synthetic(seed: int = 0) -> tuple[Network, list[dict[str, float]]]:
    """Return an invented network of the trade's size and the links of its signs."""
    rng = np.random.default_rng(seed)
    names = [f"c{i}" for i in range(CAUSES)]
    links: dict[str, dict[str, float]] = {name: {} for name in names}
    for i in range(LED):  # led-to causes come last, with three to eight parents, some of them led to as well
        at = CAUSES - LED + i
        for parent in rng.choice(at, rng.integers(3, 9), replace=False):
            links[names[parent]][names[at]] = float(rng.uniform(0.1, 0.7))
    causes = {
        name: Cause(
            id=name, name=name, family="motion", lives_in="printer", text="invented", leads_to=links[name],
            prior=0.0 if i >= CAUSES - LED // 2 else float(rng.uniform(0.003, 0.03)),
        )
        for i, name in enumerate(names)
    }  # fmt: skip
    signs = [
        {names[c]: float(rng.uniform(0.1, 0.9)) for c in rng.choice(CAUSES, rng.integers(2, 12), replace=False)}
        for _ in range(SIGNS)
    ]
    return Network.from_causes(causes), signs


def synthetic_case(signs: list[dict[str, float]], seed: int, count: int = 10) -> list[Evidence]:
    """Return `count` observations, two in three of them present, and ten shifts."""
    rng = np.random.default_rng(seed)
    items: list[Evidence] = [
        Observation(f"sign:{s}", "", signs[s], float(rng.uniform(0.01, 0.05)), bool(k % 3), float(rng.uniform(0.7, 1)))
        for k, s in enumerate(rng.choice(len(signs), count, replace=False))
    ]
    items += [Shift(f"context:{k}", "", {f"c{rng.integers(CAUSES)}": float(rng.normal(0, 2))}) for k in range(10)]
    return items


def milliseconds(act, repeat: int = 7) -> float:
    act()
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        act()
        times.append(time.perf_counter() - start)
    return 1000 * float(np.median(times))


REAL_CASES = {
    "one sign": ["stringing"],
    "five signs": ["layer_shift", "gaps_between_lines", "lines_proud", "knocking_heard", "-came_off_bed"],
    "twelve signs": [
        "layer_shift", "shift_diagonal", "gaps_between_lines", "lines_proud", "knocking_heard", "stringing",
        "-corner_lifted", "-came_off_bed", "rough_surface", "blobs", "seam_lumps", "-no_flow",
    ],
}  # fmt: skip


def real() -> None:
    """Time whole diagnoses with the shipped tables."""
    from beadwright.diagnosis.ask import next_checks
    from beadwright.diagnosis.engine import rank
    from beadwright.diagnosis.evidence import gather
    from beadwright.diagnosis.inputs import SignObservation
    from beadwright.diagnosis.tables import tables_of
    from beadwright.facts import Fact, Facts, Origin
    from beadwright.knowledge.load import load_knowledge

    knowledge = load_knowledge()
    network = tables_of(knowledge).network
    sizes = (len(table) for table in (knowledge.causes, knowledge.signs, knowledge.checks))
    print("shipped tables: {} causes, {} signs, {} checks".format(*sizes))
    facts = Facts([Fact("kinematics", "corexy", Origin.RECORD), Fact("polymer", "petg", Origin.RECORD)])
    for name, said in REAL_CASES.items():
        signs = [SignObservation(one.lstrip("-"), not one.startswith("-"), 0.9) for one in said]
        gathered = gather(knowledge, facts=facts, signs=signs)
        posterior = network.posterior(gathered.items)
        steps = {
            "ranking": lambda items=gathered.items: network.posterior(items),
            "next checks": lambda g=gathered, p=posterior: next_checks(knowledge, g, p),
            "all of diagnose": lambda s=signs: rank(knowledge, facts=facts, signs=s),
        }
        print(f"  {name}: " + ", ".join(f"{step} {milliseconds(act):.0f} ms" for step, act in steps.items()))


def main() -> None:
    for count in (4, 8, 12):
        spans, latents = [], []
        for seed in range(8):
            network, signs = synthetic(seed)
            items = synthetic_case(signs, seed, count)
            latents.append(len(network.posterior(items).frame.latent))
            spans.append(milliseconds(lambda network=network, items=items: network.posterior(items)))
        print(
            f"posterior, {CAUSES} causes, {count:2d} observations, up to {max(latents)} led-to causes: "
            f"median {np.median(spans):.1f} ms, worst {max(spans):.1f} ms"
        )
    real()


if __name__ == "__main__":
    main()
