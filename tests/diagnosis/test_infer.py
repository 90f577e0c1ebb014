"""The posterior: by hand, against plain enumeration, and the symmetries it must have."""

from itertools import combinations

import numpy as np
import pytest

from beadwright.diagnosis.items import Attempts, Likelihood, Observation, Shift
from beadwright.diagnosis.network import Network
from beadwright.diagnosis.sets import Clusters, mass_of
from beadwright.errors import KnowledgeError
from diagnosis.small_networks import cause, long_way, random_case, table


def sign(name: str, links: dict[str, float], present: bool = True, **more) -> Observation:
    return Observation(f"sign:{name}", name, links, more.pop("leak", 0.05), present, **more)


def assert_same(network, items):
    root, active, none = long_way(network, items)
    posterior = network.posterior(items)
    assert posterior.none == pytest.approx(none, abs=1e-7)
    for i, name in enumerate(network.ids):
        assert posterior.root[i] == pytest.approx(root[name], abs=1e-7)
    for k in [*posterior.frame.latent, *posterior.frame.folded]:
        assert posterior.active[k] == pytest.approx(active[network.ids[k]], abs=1e-7)


def test_two_causes_one_sign_worked_by_hand():
    """Odds 1/9 and 1/4; sets {a} 1/9, {b} 1/4, {a, b} 1/36: 14/36 in all.

    Sign present, leak 0.1, only a links with 0.8: P = 1 − 0.9·0.2 = 0.82 with a, 0.1 without;
    none: 1 − 0.9·0.8 = 0.28.
    Mass: a 4·0.82, b 9·0.1, both 1·0.82 = 5.0 of 14 → 0.92·5/14 = 0.328571; none 0.08·0.28 = 0.0224.
    """
    network = Network.from_causes(table(cause("a", 0.1), cause("b", 0.2)))
    posterior = network.posterior([sign("s", {"a": 0.8}, leak=0.1)])
    total = 0.92 * 5 / 14 + 0.0224
    assert posterior.of("a") == pytest.approx(0.92 * 4.1 / 14 / total, abs=1e-12)
    assert posterior.of("b") == pytest.approx(0.92 * 1.72 / 14 / total, abs=1e-12)
    assert posterior.none == pytest.approx(0.0224 / total, abs=1e-12)
    assert posterior.evidence == pytest.approx(total, abs=1e-12)


@pytest.mark.parametrize("seed", range(8))
def test_agrees_with_plain_enumeration(seed):
    assert_same(*random_case(seed))


def test_measured_values_and_trials_agree_with_plain_enumeration():
    network, items = random_case(3)
    more = [
        Likelihood("measured:x", "", {"root_1": 12.0, "led_0": 5.0, "led_2": 0.2}),
        Likelihood("measured:y", "", {"led_1": 0.05}),
        Attempts("trials", "", {"root_0": 4.0, "root_2": 0.3}, other=0.8),
    ]
    assert_same(network, [*items, *more])


def test_untouched_causes_and_exclusions_are_summed_exactly():
    causes = table(
        cause("a", 0.1), cause("b", 0.2, excludes=("c",)), cause("c", 0.15), cause("d", 0.3, excludes=("e",)),
        cause("e", 0.25), cause("f", 0.07, excludes=("a",)), cause("g", 0.4), cause("h", 0.1, excludes=("g",
        "d")),
    )  # fmt: skip
    network = Network.from_causes(causes)
    assert_same(network, [sign("s", {"a": 0.8})])
    assert_same(network, [sign("s", {"b": 0.8}), Attempts("trials", "", {"a": 5.0, "d": 0.1, "g": 2.0})])
    assert_same(network, [])


def test_sums_over_clusters_against_listing():
    rng = np.random.default_rng(5)
    g, v = rng.random(7), rng.random(7)
    edge = np.triu(rng.random((7, 7)) < 0.3, 1)
    edge |= edge.T
    allowed = np.triu(rng.random((7, 7)) < 0.8, 1)
    allowed |= allowed.T
    two = rng.random((7, 7)) * edge * allowed
    two = np.triu(two) + np.triu(two).T
    total, of, connected, three = float((g * v).sum()), g * v, [], []
    for i, j in combinations(range(7), 2):
        if allowed[i, j]:
            weight = (two[i, j] if edge[i, j] else g[i] * g[j]) * (v[i] + v[j]) / 2
            total += weight
            of[[i, j]] += weight
    for chosen in combinations(range(7), 3):
        if not all(allowed[a, b] for a, b in combinations(chosen, 2)):
            continue
        inner = [(a, b) for a, b in combinations(chosen, 2) if edge[a, b]]
        if len(inner) >= 2:
            weight = float(rng.random())
            connected.append(chosen)
            three.append(weight)
        elif inner:
            other = next(a for a in chosen if a not in inner[0])
            weight = two[inner[0]] * g[other]
        else:
            weight = float(np.prod(g[list(chosen)]))
        weight *= v[list(chosen)].mean()
        total += weight
        of[list(chosen)] += weight
    triple = np.array(connected)
    mass = mass_of(Clusters(g, two, triple, np.array(three), allowed & ~edge), v)
    assert mass.total == pytest.approx(total)
    np.testing.assert_allclose(mass.by_root(triple), of)


def test_no_evidence_leaves_the_prior():
    network, _ = random_case(1)
    root, _, none = long_way(network, [])
    posterior = network.posterior()
    assert posterior.none == pytest.approx(network.none_prior) == pytest.approx(none)
    np.testing.assert_allclose(posterior.root, [root[name] for name in network.ids], atol=1e-12)
    assert posterior.evidence == pytest.approx(1.0)


def test_evidence_that_says_nothing_changes_nothing():
    network, _ = random_case(2)
    before = network.posterior()
    after = network.posterior([sign("s", {"root_0": 0.9, "led_0": 0.4}, confidence=0.5)])
    np.testing.assert_allclose(after.root, before.root, atol=1e-12)


def test_order_of_the_evidence_makes_no_difference():
    network, items = random_case(4)
    one, two = network.posterior(items), network.posterior(items[::-1])
    np.testing.assert_allclose(one.root, two.root, atol=1e-12)


def test_relabelling_the_causes_makes_no_difference():
    def build(names):
        a, b, c, d = names
        network = Network.from_causes(
            table(
                cause(a, 0.1, leads_to={c: 0.6}),
                cause(b, 0.2),
                cause(c, 0.0, leads_to={d: 0.5}),
                cause(d, 0.05),
            )
        )
        posterior = network.posterior([sign("s", {c: 0.7, b: 0.3}), sign("t", {d: 0.9}), sign("u", {a: 0.5}, False)])
        return [posterior.of(name) for name in names]

    np.testing.assert_allclose(build(["a", "b", "c", "d"]), build(["z", "m", "b", "a"]), atol=1e-12)


def test_negative_control_shuffled_links_do_change_the_answer():
    network, items = random_case(6)
    swapped = {"root_0": "root_1", "root_1": "root_2", "root_2": "root_0"}
    shuffled = [
        Observation(i.id, i.text, {swapped.get(k, k): v for k, v in i.links.items()}, i.leak, i.present, i.confidence)
        for i in items
    ]
    assert np.abs(network.posterior(items).root - network.posterior(shuffled).root).max() > 0.01


def test_a_shift_moves_the_odds_by_its_bits_and_is_capped():
    network = Network.from_causes(table(cause("a", 0.1)), none_prior=0.5)
    odds = lambda *items: network.posterior(items).of("a") / network.posterior(items).none  # noqa: E731
    assert odds(Shift("context:x", "", {"a": 1.0})) == pytest.approx(2 * odds())
    assert odds(Shift("context:x", "", {"a": -1.5}), Shift("rule:y", "", {"a": -0.5})) == pytest.approx(odds() / 4)
    assert odds(Shift("context:x", "", {"a": 50.0})) == pytest.approx(64 * odds())


def test_a_shift_on_a_pure_mechanism_moves_the_links_into_it():
    network = Network.from_causes(table(cause("a", 0.1, leads_to={"m": 0.5}), cause("m", 0.0), cause("b", 0.1)))
    seen = sign("s", {"m": 0.9})
    up, down = (network.posterior([seen, Shift("rule:x", "", {"m": bits})]).of("a") for bits in (2.0, -2.0))
    assert up > network.posterior([seen]).of("a") > down


def test_a_chain_points_at_its_beginning():
    network = Network.from_causes(
        table(
            cause("cold", 0.05, leads_to={"proud": 0.6}), cause("proud", 0.0, leads_to={"strikes": 0.7}),
            cause("strikes", 0.0, leads_to={"lost": 0.5}), cause("lost", 0.03), cause("other", 0.1),
        )
    )  # fmt: skip
    posterior = network.posterior([sign("gaps", {"cold": 0.7}, leak=0.03), sign("shift", {"lost": 0.95}, leak=0.005)])
    assert posterior.of("cold") > posterior.of("lost")
    assert posterior.active[network.index["lost"]] > 0.9


def test_a_root_that_only_leads_to_unobserved_things_keeps_its_marginal():
    network = Network.from_causes(table(cause("a", 0.2, leads_to={"b": 0.5}), cause("b", 0.1), cause("c", 0.1)))
    root, active, _ = long_way(network, [])
    posterior = network.posterior()
    assert posterior.of("b") == pytest.approx(root["b"])
    assert posterior.active[network.index["b"]] == pytest.approx(active["b"], abs=0.05)  # parents taken as independent


def test_links_in_a_circle_or_to_nowhere_are_refused():
    with pytest.raises(KnowledgeError, match="circle among a, b"):
        Network.from_causes(table(cause("a", leads_to={"b": 0.5}), cause("b", leads_to={"a": 0.5})))
    with pytest.raises(KnowledgeError, match="names the cause ghost"):
        Network.from_causes(table(cause("a", leads_to={"ghost": 0.5})))
