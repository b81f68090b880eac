"""What the review's intervals are worth in a world that is not normal and not linear: the invented shop.

What is true is what the same regression says of a record so long that luck and
pooling play no part.
"""

import numpy as np
import pytest

from synthetic_cases.generate import generate_history
from synthetic_cases.truth import load_truth
from triage.domain.catalogue import load_catalogue
from triage.domain.shop.settings import load_settings
from triage.ledger.history.history_csv import parse_history
from triage.review.money.money_review import money_review
from triage.shipped import shipped

HISTORIES, JOBS, LONG = 12, 1500, 30_000


@pytest.mark.slow
def test_intervals_hold_what_a_long_record_says():
    catalogue, truth = load_catalogue(), load_truth()
    settings = load_settings(shipped("models/shop/demo-settings.toml"))

    def groups(seed, jobs):
        text = generate_history(truth, seed, jobs).to_csv(index=False)
        return money_review(parse_history(text, "invented", catalogue), catalogue, settings).groups

    true = {group.slug: group for group in groups(1, LONG)}
    shared, plain, sure = [], [], []
    for seed in range(100, 100 + HISTORIES):
        for group in groups(seed, JOBS):
            mean, had = true[group.slug].mean.mean, true[group.slug].had_it.mean
            shared.append(group.mean.low <= mean <= group.mean.high)
            plain.append(group.had_it.low <= had <= group.had_it.high)
            if group.mean.loss_chance > 0.95:
                sure.append(mean < 0)
    # Meant: .90. Measured over 24 histories each (seeds 300 to 323): of 300 jobs .88 and .92, of 800
    # .92 and .90, of 1,500 .91 and .90; said to lose and do: 52 of 59, 188 of 194, 231 of 241. The
    # bounds leave three standard errors, about: kinds of one history hang together.
    assert 0.86 < np.mean(shared) < 0.95
    assert 0.86 < np.mean(plain) < 0.96
    # Of the kinds said to lose money at 19 in 20 or more, as many do.
    assert np.mean(sure) > 0.93
