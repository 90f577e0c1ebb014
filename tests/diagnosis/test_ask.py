"""Expected information: never negative, nothing for a question without bearing, and equal to the long way."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadwright.diagnosis.ask import Question, chance_of_yes, information_bits, price_minutes, sets_of
from beadwright.diagnosis.inputs import SignObservation
from beadwright.diagnosis.items import Observation
from beadwright.diagnosis.network import Network
from diagnosis.small_networks import cause, table
from diagnosis.small_tables import check, diagnosed, tables


def question(links, leak=0.05, reliability=0.95):
    return Question(check("asked", yes=links, leak=leak, reliability=reliability), links, leak, 0.1, 1 - reliability)


def plain_network():
    return Network.from_causes(table(cause("a", 0.2), cause("b", 0.1), cause("c", 0.3), cause("d", 0.05)))


EVIDENCE = [
    Observation("sign:s", "", {"a": 0.8, "b": 0.6}, 0.05, True, 0.9),
    Observation("sign:t", "", {"b": 0.3, "c": 0.5}, 0.1, False, 0.8),
]


def test_information_equals_plain_enumeration():
    """H(answer) − Σ P(set)·H(answer | set), every set of one to three causes listed by hand."""
    network, asked = plain_network(), question({"b": 0.7, "d": 0.9})
    posterior = network.posterior(EVIDENCE)
    weights, yes = [], []
    for size in (1, 2, 3):
        for chosen in combinations(range(4), size):
            names = [network.ids[i] for i in chosen]
            weight = np.prod(network.odds[list(chosen)])
            for item in EVIDENCE:
                hit = 1 - (1 - item.leak) * np.prod([1 - item.links.get(n, 0) for n in names])
                hit = hit if item.present else 1 - hit
                weight *= item.confidence * hit + (1 - item.confidence) * (1 - hit)
            p = 1 - 0.95 * np.prod([1 - asked.links.get(n, 0) for n in names])
            weights.append(weight)
            yes.append(0.95 * p + 0.05 * (1 - p))
    weights = np.append(np.array(weights) / sum(weights) * (1 - posterior.none), posterior.none)
    none = 1 - 0.95 * 0.9
    yes = np.append(yes, 0.95 * none + 0.05 * (1 - none))
    h = lambda p: -p * np.log2(p) - (1 - p) * np.log2(1 - p)  # noqa: E731
    expected = h(weights @ yes) - weights @ h(yes)

    sets = sets_of(posterior, earned=False)
    bits = information_bits(sets.weight, chance_of_yes(posterior, sets, [asked]))
    assert bits[0] == pytest.approx(expected, abs=1e-6)


def test_chance_of_yes_follows_a_chain_exactly():
    """a → m (0.5) → asked (0.8): alone, a gives 0.5·0.8 = 0.4, with leak 0.05: 1 − 0.95·0.6 = 0.43."""
    network = Network.from_causes(table(cause("a", 0.2, leads_to={"m": 0.5}), cause("m", 0.0), cause("b", 0.1)))
    for evidence in ([], [Observation("sign:b", "", {"b": 0.5}, 0.05, True)]):
        posterior = network.posterior(evidence)
        sets = sets_of(posterior, earned=False)
        yes = chance_of_yes(posterior, sets, [question({"m": 0.8}, reliability=1.0)])[:, 0]
        only_a = np.flatnonzero((sets.member[:, network.index["a"]] == 1) & (sets.member.sum(axis=1) == 1))[0]
        right = 0.98  # nobody is surer
        assert yes[only_a] == pytest.approx(right * 0.43, abs=1e-9)


def test_chance_of_yes_with_the_mechanism_half_seen():
    """a → m (0.5), m seen through a sign (0.8, leak 0.1): P(m | a, sign) = 0.5·0.82/(0.5·0.82 + 0.5·0.1) =
    0.8913.
    """
    network = Network.from_causes(table(cause("a", 0.2, leads_to={"m": 0.5}), cause("m", 0.0)))
    posterior = network.posterior([Observation("sign:m", "", {"m": 0.8}, 0.1, True)])
    sets = sets_of(posterior)
    yes = chance_of_yes(posterior, sets, [question({"m": 0.9}, leak=0.0, reliability=0.98)])[0, 0]
    p = 0.41 / 0.46 * 0.9
    assert yes == pytest.approx(0.98 * p + 0.02 * (1 - p), abs=1e-9)


@given(
    st.lists(st.floats(0.001, 1), min_size=1, max_size=8),
    st.lists(st.lists(st.floats(0, 1), min_size=3, max_size=3), min_size=8, max_size=8),
)
def test_information_is_never_negative_nor_more_than_one_bit(weights, yes):
    w = np.array(weights) / sum(weights)
    bits = information_bits(w, np.array(yes)[: len(w)])
    assert (bits >= 0).all()
    assert (bits <= 1 + 1e-12).all()


def test_a_question_without_bearing_is_worth_nothing():
    posterior = plain_network().posterior(EVIDENCE)
    sets = sets_of(posterior)
    flat = Question(check("asked", yes={"a": 0.5}), {}, 0.3, 0.0, 0.05)
    assert information_bits(sets.weight, chance_of_yes(posterior, sets, [flat]))[0] == pytest.approx(0.0, abs=1e-9)


def test_an_inert_companion_makes_no_set_of_its_own():
    network = Network.from_causes(table(cause("a", 0.2), cause("b", 0.2)))
    sets = sets_of(network.posterior([Observation("sign:s", "", {"a": 0.9}, 0.01, True)]))
    assert sets.member.sum(axis=1).max() == 1


def test_dear_checks_must_tell_more():
    knowledge = tables()
    answer = diagnosed(knowledge, signs=[SignObservation("strings", True)])
    order = [c.id for c in answer.next_checks]
    assert order.index("listen") < order.index("new_spool")
    told = {c.id: c.expected_bits for c in answer.next_checks}
    assert told["new_spool"] > told["listen"]
    assert "damp" in answer.next_checks[0].separates
    assert price_minutes(knowledge.checks["new_spool"]) > 10 * price_minutes(knowledge.checks["listen"])
