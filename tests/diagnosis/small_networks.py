"""Small invented networks, and their posterior the long way: every set, every configuration, one by one."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np

from beadwright.diagnosis.items import Attempts, Likelihood, Observation
from beadwright.diagnosis.network import Network
from beadwright.knowledge.model import Cause


def cause(name: str, prior: float = 0.05, **more) -> Cause:
    return Cause(
        id=name,
        name=name.replace("_", " "),
        family=more.pop("family", "motion"),
        lives_in=more.pop("lives_in", "printer"),
        prior=prior,
        text="invented for a test",
        **more,
    )


def table(*causes: Cause) -> dict[str, Cause]:
    return {one.id: one for one in causes}


def random_case(seed: int, roots: int = 4, led: int = 3, findings: int = 4, soft: bool = True):
    """Return (network, items): `roots` plain causes, `led` led-to ones in chains, some of them roots as
    well.
    """
    rng = np.random.default_rng(seed)
    names = [f"root_{i}" for i in range(roots)] + [f"led_{i}" for i in range(led)]
    links: dict[str, dict[str, float]] = {name: {} for name in names}
    for i in range(led):
        for name in names[: roots + i]:
            if rng.random() < 0.45:
                links[name][f"led_{i}"] = float(rng.uniform(0.2, 0.9))
    if roots and led:
        links["root_0"].setdefault("led_0", 0.7)
    causes = table(*(
        cause(
            name,
            float(rng.uniform(0.02, 0.3)) if name.startswith("root") or rng.random() < 0.5 else 0.0,
            leads_to=links[name],
        )
        for name in names
    ))  # fmt: skip
    items = []
    for f in range(findings):
        chosen = [name for name in names if rng.random() < 0.4] or [names[f % len(names)]]
        items.append(
            Observation(
                f"sign:{f}", "invented", {name: float(rng.uniform(0.2, 0.9)) for name in chosen},
                leak=float(rng.uniform(0.01, 0.1)), present=bool(rng.random() < 0.7),
                confidence=float(rng.uniform(0.6, 1.0)) if soft else 1.0,
                wrong=float(rng.uniform(0.01, 0.2)) if soft and f % 2 else None, stray=0.2,
            )
        )  # fmt: skip
    return Network.from_causes(causes), items


def long_way(network: Network, items) -> tuple[dict[str, float], dict[str, float], float]:
    """Return (chance as a root, chance at work, none) by plain enumeration."""
    ids, size = network.ids, len(network.ids)
    prior = [odds / (1 + odds) for odds in network.odds]
    candidates = [i for i in range(size) if prior[i] > 0]
    root, active, mass, evidence = np.zeros(size), np.zeros(size), 0.0, 0.0
    for count in (1, 2, 3):
        for chosen in combinations(candidates, count):
            if any(not network.allowed[a, b] for a, b in combinations(chosen, 2)):
                continue
            base = np.prod([prior[i] if i in chosen else 1 - prior[i] for i in candidates])
            mass += base
            for on in product((0, 1), repeat=size):
                chance = base
                for i in range(size):
                    off = 0.0 if i in chosen else np.prod([1 - network.links[j, i] for j in range(size) if on[j]])
                    chance *= 1 - off if on[i] else off
                if chance == 0:
                    continue
                for item in items:
                    chance *= _likelihood(item, ids, on, chosen)
                evidence += chance
                root[list(chosen)] += chance
                active[[i for i in range(size) if on[i]]] += chance
    share = (1 - network.none_prior) / mass
    none = network.none_prior
    for item in items:
        if isinstance(item, Observation):
            hit = 1 - (1 - item.leak) * (1 - item.stray)
            hit = hit if item.present else 1 - hit
            wrong = 1 - item.confidence if item.wrong is None else item.wrong
            none *= item.confidence * hit + wrong * (1 - hit)
        elif isinstance(item, Attempts):
            none *= item.other
    total = evidence * share + none
    by_id = lambda row: {name: float(row[i] * share / total) for i, name in enumerate(ids)}  # noqa: E731
    return by_id(root), by_id(active), none / total


def _likelihood(item, ids, on, chosen) -> float:
    if isinstance(item, Observation):
        off = (1 - item.leak) * np.prod([1 - item.links.get(ids[i], 0.0) for i in range(len(ids)) if on[i]])
        hit = 1 - off if item.present else off
        wrong = 1 - item.confidence if item.wrong is None else item.wrong
        return item.confidence * hit + wrong * (1 - hit)
    if isinstance(item, Likelihood):
        ratios = [item.ratios[ids[i]] for i in range(len(ids)) if on[i] and ids[i] in item.ratios]
        return float(np.mean(ratios)) if ratios else 1.0
    if isinstance(item, Attempts):
        return float(np.mean([item.ratios.get(ids[i], item.other) for i in chosen]))
    raise TypeError(item)
