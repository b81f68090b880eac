"""Thinning, prior draws and the second try."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from triage.inference import sampling
from triage.inference.sampling import SamplerSettings, fit_model, thinned


def test_thinning_keeps_every_chain_and_spaces_evenly():
    values = np.arange(4)[:, None] * 1000 + np.arange(1000)
    flat = thinned(xr.Dataset({"x": (("chain", "draw", "k"), values[..., None])}), 200)
    assert flat["x"].dims == ("draw", "k")
    assert flat.sizes["draw"] == 200
    per_chain = np.bincount(flat["x"].to_numpy()[:, 0].astype(int) // 1000)
    assert per_chain.tolist() == [50, 50, 50, 50]


def fake_sampler(calls: list[dict], good_from: int):
    """Stand in for the sampler: bad chains until the `good_from`-th call."""

    def sample(compiled, *, draws, tune, chains, cores, seed, target_accept, progress):
        assert compiled == "compiled"
        calls.append({"draws": draws, "target_accept": target_accept, "seed": seed})
        rng = np.random.default_rng(seed)
        values = rng.normal(size=(chains, draws))
        if len(calls) < good_from:
            values += np.arange(chains)[:, None]
        statistics = {"diverging": (("chain", "draw"), np.zeros(values.shape, bool))}
        return xr.Dataset({"x": (("chain", "draw"), values)}), xr.Dataset(statistics)

    return sample


@pytest.mark.parametrize(("good_from", "tries", "passes"), [(1, 1, True), (2, 2, True), (9, 2, False)])
def test_there_is_one_second_try_at_a_higher_target(monkeypatch, good_from, tries, passes):
    calls: list[dict] = []
    compiled: list[object] = []
    monkeypatch.setattr(sampling.backend, "compiled", lambda model: compiled.append(model) or "compiled")
    monkeypatch.setattr(sampling.backend, "sample", fake_sampler(calls, good_from))
    events: list[dict] = []
    found = fit_model("model", ("x", "absent"), 7, SamplerSettings(), events.append)
    assert len(calls) == tries
    assert compiled == ["model"], "compiling takes as long as sampling: once is enough"
    assert (not found.failures) == passes
    assert found.diagnostics.retried == (tries == 2)
    assert list(found.draws.data_vars) == ["x"]
    if tries == 2:
        assert calls[1]["target_accept"] > calls[0]["target_accept"]
        assert calls[1]["draws"] > calls[0]["draws"]
        assert [event["event"] for event in events] == ["retry"]
