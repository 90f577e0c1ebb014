"""A whole diagnosis on small invented tables."""

import numpy as np
import pytest

from beadwright.audit.findings import Audit, Finding, Quiet
from beadwright.diagnosis.engine import rank
from beadwright.diagnosis.evidence import gather
from beadwright.diagnosis.explain import log_odds_bits
from beadwright.diagnosis.inputs import Answer, SignObservation, Trial
from beadwright.diagnosis.tables import tables_of
from beadwright.facts import Fact, Facts, Origin
from diagnosis.small_tables import diagnosed, tables


@pytest.fixture(scope="module")
def knowledge():
    return tables()


def seen(*names, confidence=0.95):
    return [SignObservation(n.lstrip("-"), not n.startswith("-"), confidence) for n in names]


def facts(**values):
    return Facts([Fact(name, value, Origin.RECORD) for name, value in values.items()])


def chance(diagnosis, cause):
    return next((c.probability for c in diagnosis.causes if c.id == cause), 0.0)


def test_nothing_known_is_open_and_says_what_is_missing(knowledge):
    answer = diagnosed(knowledge)
    assert answer.verdict == "open"
    assert answer.none_of_these == pytest.approx(0.08)
    assert any("no sign is known" in text for text in answer.missing)
    assert answer.next_checks


def test_a_shift_with_cold_lines_is_blamed_on_the_cold_nozzle_with_its_chain(knowledge):
    answer = diagnosed(knowledge, signs=seen("layer_shift", "proud_lines", "gaps"))
    first = answer.causes[0]
    assert first.id == "cold"
    assert first.chain == ("proud", "one_motor_lost_steps")
    lost = next(c for c in answer.causes if c.id == "one_motor_lost_steps")
    assert lost.at_work > 0.8 > lost.probability
    assert lost.follows_from == ("cold",)


def test_bits_add_up_for_every_cause(knowledge):
    answer, posterior = rank(
        knowledge, signs=seen("strings", "pops", "-gaps"), facts=facts(nozzle_temp_c=200.0),
        trials=[Trial("A", "x", "f", "", True), Trial("B", "x", "f", "", True)],
    )  # fmt: skip
    prior = log_odds_bits(posterior.network.prior)
    for cause in answer.causes:
        at = posterior.network.index[cause.id]
        assert prior[at] + sum(b.bits for b in cause.because) == pytest.approx(
            float(log_odds_bits(posterior.root)[at]), abs=0.06
        )
        single = [abs(b.bits) for b in cause.because if b.evidence != "together"]
        assert single == sorted(single, reverse=True)
        assert all(b.evidence != "together" for b in cause.because[:-1])


def test_enough_evidence_settles_and_the_summary_names_the_rival(knowledge):
    answer = diagnosed(knowledge, signs=seen("strings", "pops"), answers=[Answer("new_spool", "yes")])
    assert (answer.causes[0].id, answer.verdict) == ("damp", "settled")
    assert "nearest rival" in answer.summary


def test_an_answer_moves_the_ranking_and_is_not_asked_again(knowledge):
    before = diagnosed(knowledge, signs=seen("strings"))
    after = diagnosed(knowledge, signs=seen("strings"), answers=[Answer("listen", "no")])
    assert chance(after, "damp") < chance(before, "damp")
    assert "listen" in {c.id for c in before.next_checks}
    assert "listen" not in {c.id for c in after.next_checks}
    unsure = diagnosed(knowledge, signs=seen("strings"), answers=[Answer("listen", "unsure")])
    assert chance(unsure, "damp") == pytest.approx(chance(before, "damp"))


def test_a_fact_or_a_sure_sign_makes_its_check_needless(knowledge):
    answer = diagnosed(knowledge, signs=seen("gaps"), facts=facts(nozzle_temp_c=230.0))
    assert {"read_temperature", "look_for_gaps"}.isdisjoint({c.id for c in answer.next_checks})


def test_context_rules_and_quiet_rules_move_the_odds(knowledge):
    def cold(audit=None, **known):
        return chance(diagnosed(knowledge, signs=seen("gaps"), audit=audit, facts=facts(**known)), "cold")

    assert cold(nozzle_temp_c=200.0) > cold() > cold(nozzle_temp_c=230.0)
    found = Finding("nozzle_below_window", "fault", 200, "°C", (210, 240), "Practice", "too low", ("cold",))
    quiet = Quiet("nozzle_below_window", ("cold",), -2.0, "in order")
    assert cold(Audit((found,), (), ())) > cold() > cold(Audit((), (quiet,), ()))


def test_a_broader_sign_is_not_counted_twice(knowledge):
    both = gather(knowledge, signs=seen("layer_shift", "shift_diagonal"))
    one = gather(knowledge, signs=seen("shift_diagonal"))
    assert [i.id for i in both.items] == [i.id for i in one.items] == ["sign:shift_diagonal"]


def test_the_surest_report_counts_and_contradictions_are_told(knowledge):
    reports = [
        SignObservation("strings", True, 0.7, "the story"),
        SignObservation("strings", False, 0.95, "a photo"),
    ]
    gathered = gather(knowledge, signs=reports)
    assert gathered.signs["strings"].present is False
    assert "the story says yes, a photo says no" in gathered.conflicts[0]
    odd = gather(knowledge, signs=seen("shift_diagonal", "-layer_shift"))
    assert "cannot be without" in odd.conflicts[0]


def test_a_measured_shift_stands_in_for_its_signs(knowledge):
    known = Facts([Fact("shift_mm", (1.2, 1.2), Origin.MEASURED), Fact("shift_u_mm", 0.3, Origin.MEASURED),
                   Fact("kinematics", "corexy", Origin.RECORD)])  # fmt: skip
    gathered = gather(knowledge, facts=known, signs=seen("shift_diagonal"))
    assert {i.id for i in gathered.items} == {"sign:layer_shift", "measured:shift_mm"}
    answer = diagnosed(knowledge, facts=known)
    assert answer.causes[0].id in ("one_motor_lost_steps", "cold")
    assert any("too coarse" in text for text in answer.missing)


def test_order_of_what_is_said_makes_no_difference(knowledge):
    names = ["strings", "pops", "-gaps", "layer_shift"]
    one, two = (diagnosed(knowledge, signs=seen(*order)) for order in (names, names[::-1]))
    assert [(c.id, round(c.probability, 9)) for c in one.causes] == [
        (c.id, round(c.probability, 9)) for c in two.causes
    ]


def test_unknown_ids_are_listed_as_unread(knowledge):
    answer = diagnosed(knowledge, signs=seen("ghost"), answers=[Answer("nothing", "yes")])
    assert len(answer.unread) == 2


def test_a_dangerous_cause_leads_with_its_caution_long_before_it_is_likely(knowledge):
    answer = diagnosed(knowledge, signs=seen("stops", "gaps"))
    assert answer.cautions[0] == "Unplug it first."


def test_silence_of_a_story_weighs_softly_against_what_it_would_have_told(knowledge):
    plain = diagnosed(knowledge, signs=seen("strings"))
    silent = diagnosed(knowledge, signs=seen("strings"), silence=True)
    assert chance(plain, "damp") / chance(plain, "short_pull") > chance(silent, "damp") / chance(silent, "short_pull")


def test_trials_favour_what_lives_in_the_guilty_item(knowledge):
    rows = [Trial("A", "x", "f", "", True), Trial("B", "x", "g", "", True), Trial("A", "y", "f", "", False)]
    plain, tried = (diagnosed(knowledge, signs=seen("strings"), trials=t) for t in ((), rows))
    assert chance(tried, "damp") / chance(tried, "short_pull") > 3 * chance(plain, "damp") / chance(plain, "short_pull")


def test_a_sign_reported_half_sure_says_nothing(knowledge):
    assert chance(diagnosed(knowledge, signs=seen("strings", confidence=0.5)), "damp") == pytest.approx(
        chance(diagnosed(knowledge), "damp")
    )


def test_a_failed_print_has_one_root_cause_on_average_and_a_quarter(knowledge):
    root = tables_of(knowledge).network.prior
    assert np.sum(root) / 0.92 == pytest.approx(1.25, abs=0.01)
