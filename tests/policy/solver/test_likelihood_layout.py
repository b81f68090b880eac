"""States laid out in blocks: every state finds its own pair of rows."""

from __future__ import annotations

import numpy as np
import pytest

from triage.policy.solver.likelihood_layout import _SMALL_TABLE, _blocks


@pytest.mark.parametrize("rows, partners", [(7, 5), (331, 330)])
def test_every_state_finds_its_own_pair(rows, partners):
    # Only a few cells of the larger table: rows with the same partners share a block.
    rng = np.random.default_rng(1)
    sets = [np.sort(rng.choice(partners, 3, replace=False)) for _ in range(9)]
    pairs = [(row, met) for row in range(rows) for met in sets[row % 9]] + [(rows - 1, partners - 1)]
    ours, theirs = np.array(sorted(set(pairs)))[rng.permutation(len(set(pairs)))].T
    assert (rows * partners > max(_SMALL_TABLE, 2 * len(ours))) == (rows > 9)
    blocks, place = _blocks(ours, theirs)
    cells = np.concatenate([np.stack(np.meshgrid(*b, indexing="ij"), -1).reshape(-1, 2) for b in blocks])
    assert np.array_equal(cells[place], np.column_stack([ours, theirs]))
