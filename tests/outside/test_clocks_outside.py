"""The clock test against something outside: tables of the Rayleigh test, a numerics library, the reference facts.

memory     recalled from the cited work; the page was not seen
computed   by another route: a library, simulation
"""

import numpy as np
import pytest
from scipy import signal

from beadwright.diagnosis.clock_maps import PrintClocks
from beadwright.diagnosis.clock_sources import sources_of
from beadwright.diagnosis.periodogram import (
    false_alarm,
    false_alarm_simulated,
    independent_frequencies,
    lomb_scargle,
    lomb_scargle_false_alarm,
    rayleigh,
    rayleigh_tail,
)
from beadwright.facts import Fact, Facts, Origin


@pytest.mark.parametrize("z", [0.5, 1.0, 3.0, 6.0])
def test_for_many_marks_rayleighs_statistic_is_exponential(z):
    """P(R²/n > z) → exp(−z): Mardia and Jupp, Directional Statistics (2000), sec. 4.8 and 6.3 (memory)."""
    assert rayleigh_tail(z, 20_000) == pytest.approx(np.exp(-z), rel=0.01)


@pytest.mark.parametrize(("count", "z"), [(6, 2.865), (8, 2.899), (10, 2.919), (20, 2.958), (100, 2.989)])
def test_critical_values_at_five_percent(count, z):
    """Critical z of the Rayleigh test: Greenwood and Durand, Ann. Math. Statist. 26 (1955) 233 (memory)."""
    assert rayleigh_tail(z, count) == pytest.approx(0.05, rel=0.12 if count < 8 else 0.06)


@pytest.mark.parametrize("count", [6, 10, 25])
def test_the_tail_against_random_walks(count):
    """Computed by simulation, 400,000 walks; the model may err to the careful side by an eighth."""
    turns = np.random.default_rng(1).random((400_000, count))
    z = np.abs(np.exp(2j * np.pi * turns).sum(axis=1)) ** 2 / count
    for reached in (2.0, 4.0, 5.0):
        share = float((z >= reached).mean())
        assert 0.93 * share - 1e-4 < rayleigh_tail(reached, count) < 1.13 * share + 4 * (share / 400_000) ** 0.5


@pytest.mark.parametrize("count", [8, 15, 30])
def test_the_correction_for_frequencies_tried(count):
    """Computed by simulation: the best of a range of frequencies, without any rhythm."""
    rng, low, high = np.random.default_rng(2), 0.6 * count, 2.2 * count
    best = np.array([rayleigh(rng.random(count), np.arange(low, high, 0.1)).max() for _ in range(1500)])
    for level in (0.1, 0.02):
        z = float(np.quantile(best, 1 - level))
        assert false_alarm(z, count, independent_frequencies(low, high, 1.0, z)) == pytest.approx(level, rel=0.45)
    z = float(np.quantile(best, 0.9))
    assert false_alarm_simulated(z, count, low, high, 1.0, np.random.default_rng(3)) == pytest.approx(0.1, abs=0.05)


def test_lomb_scargle_against_a_library():
    """scipy.signal.lombscargle, normalised, mean fitted (computed)."""
    rng = np.random.default_rng(4)
    t = np.sort(rng.uniform(0, 60, 80))
    y = np.sin(2 * np.pi * 0.21 * t + 0.4) + rng.normal(0, 0.7, 80)
    f = np.linspace(0.02, 0.6, 200)
    theirs = signal.lombscargle(t, y - y.mean(), 2 * np.pi * f, normalize=True, floating_mean=True)
    np.testing.assert_allclose(lomb_scargle(t, y, f), theirs, rtol=1e-7, atol=1e-9)
    assert f[np.argmax(lomb_scargle(t, y, f))] == pytest.approx(0.21, abs=0.005)


def test_lomb_scargle_of_noise_follows_its_law():
    """One frequency, white noise with its mean taken off: (1 − share)^((n − 3)/2) (computed by simulation)."""
    rng = np.random.default_rng(5)
    t = np.sort(rng.uniform(0, 60, 20))
    shares = np.array([lomb_scargle(t, rng.normal(size=20), [0.3])[0] for _ in range(4000)])
    for share in (0.2, 0.4):
        assert float((shares >= share).mean()) == pytest.approx(lomb_scargle_false_alarm(share, 20, 1), rel=0.25)


def test_periods_of_parts_against_the_reference_facts():
    """Reference facts, regular marks: a gear of 11.0 mm turns once in 34.5575 mm of filament, 7.3 mm in 22.9336;
    a spool of 160 mm in 502.655 mm, 6.04513 mm of height at 200 mm² of plastic."""
    layers = np.arange(301) * 0.2
    fed = layers * 200.0 / (np.pi * 1.75**2 / 4)
    clocks = PrintClocks(layers, np.arange(301) * 20.0, fed, np.arange(301) * 1200.0)
    for gear, turn in ((11.0, 34.5575), (7.3, 22.9336)):
        known = Facts([Fact("drive_gear_mm", gear, Origin.RECORD)])
        (source,) = [one for one in sources_of(known, clocks) if "gear" in one.part]
        assert (source.low + source.high) / 2 == pytest.approx(turn, abs=1e-3)
    (spool,) = [one for one in sources_of(Facts(), clocks) if one.part == "one turn of the spool"]
    assert spool.low < 502.655 < spool.high
    assert float(clocks.height("filament", 502.655)) == pytest.approx(6.04513, abs=1e-4)
    # bed 30 s on 20 s layers of 0.2 mm: 1.5 layers, 0.3 mm; at 60 mm/s 1800 mm of path
    assert float(clocks.height("s", 30.0)) == pytest.approx(0.3)
    assert float(clocks.at("path", 0.3)) == pytest.approx(1800.0)


def test_steps_that_do_not_divide_the_layer_beat():
    """Reference facts: an 8 mm lead has full steps of 0.04 mm; 0.21 mm are 5.25 of them: a beat every 4 layers."""
    layers = np.arange(301) * 0.21
    clocks = PrintClocks(layers, *(np.arange(301) * pace for pace in (20.0, 30.0, 900.0)))
    known = Facts([Fact("screw_lead_mm", 8.0, Origin.RECORD)])
    (beat,) = [one for one in sources_of(known, clocks) if "full steps" in one.part]
    assert beat.middle == pytest.approx(4 * 0.21, rel=0.01)
