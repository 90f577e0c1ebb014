"""A table of attempts isolates where the cause lives.

A cause that lives in one item (this printer, this spool …) is there in every attempt with that item: the
defect then shows with chance `HIT`, else with `STRAY`. Which item it is, is not known beforehand: the items
that ever showed the defect share the chance, and an attempt whose item is not named says as much as a coin
weighted by both.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from beadwright.diagnosis.inputs import Trial

HIT, STRAY = 0.85, 0.12  # judgement, no source
LARGEST_RATIO = 200.0  # attempts are seldom as alike as they seem

ITEM: dict[str, Callable[[Trial], str]] = {
    "printer": lambda trial: trial.printer,
    "filament": lambda trial: trial.spool,
    "file": lambda trial: trial.file,
    "model": lambda trial: trial.file,  # the part's shape travels with its file
    "environment": lambda trial: trial.surroundings,
}


def group_likelihoods(trials: Sequence[Trial]) -> dict[str, float]:
    """Return, for each place a cause may live in, the likelihood of the table of attempts."""
    likelihood = {group: _lives_in(trials, item) for group, item in ITEM.items()}
    likelihood["handling"] = _happened_once(trials)
    return likelihood


def group_ratios(trials: Sequence[Trial]) -> dict[str, float]:
    """Return the likelihoods over their mean, within 1/200…200; all 1 without attempts."""
    likelihood = group_likelihoods(trials)
    mean = float(np.mean(list(likelihood.values())))
    return {
        group: float(np.clip(value / mean, 1 / LARGEST_RATIO, LARGEST_RATIO)) for group, value in likelihood.items()
    }


def _lives_in(trials: Sequence[Trial], item: Callable[[Trial], str]) -> float:
    names = [item(trial).strip().casefold() for trial in trials]
    guilty = sorted({name for name, trial in zip(names, trials, strict=True) if trial.defect and name})
    if not guilty:  # nobody named the item: every attempt may have had it
        return float(np.prod([_chance(trial.defect, (HIT + STRAY) / 2) for trial in trials]))
    return float(np.mean([_table(names, trials, suspect) for suspect in guilty]))


def _table(names: Sequence[str], trials: Sequence[Trial], suspect: str) -> float:
    product = 1.0
    for name, trial in zip(names, trials, strict=True):
        shows = HIT if name == suspect else STRAY if name else (HIT + STRAY) / 2
        product *= _chance(trial.defect, shows)
    return product


def _happened_once(trials: Sequence[Trial]) -> float:
    """A mishap spoils one attempt; the others go wrong only by chance."""
    plain = np.array([_chance(trial.defect, STRAY) for trial in trials])
    spoiled = [k for k, trial in enumerate(trials) if trial.defect]
    if not spoiled:
        return float(plain.prod())
    return float(np.mean([plain.prod() / plain[k] * HIT for k in spoiled]))


def _chance(defect: bool, shows: float) -> float:
    return shows if defect else 1 - shows


def trials_text(trials: Sequence[Trial], ratios: dict[str, float]) -> str:
    """Say what the attempts point at."""
    place = max(ratios, key=lambda group: ratios[group])
    words = {
        "printer": "the printer", "filament": "the spool", "file": "the file", "model": "the model",
        "environment": "the surroundings", "handling": "a single mishap",
    }  # fmt: skip
    failed = sum(trial.defect for trial in trials)
    return f"{failed} of {len(trials)} attempts showed the fault, in a pattern that points at {words[place]}"
