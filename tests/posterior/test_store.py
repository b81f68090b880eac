"""Stored draws are read back unchanged, or refused with the reason."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Repair
from triage.errors import PosteriorError, StalePosteriorError
from triage.posterior.interval import interval
from triage.posterior.manifest import (
    Diagnostics,
    Fading,
    LikelihoodChecks,
    Manifest,
    ModelRecord,
    QuickUpdate,
    manifest_from,
    structure_digest,
)
from triage.posterior.store import Posterior, load_manifest, load_posterior, save_posterior
from triage.posterior.versions import last_full_fit, use_version, versions

CATALOGUE = Catalogue(kind=(DamageKind("a", "a", "f"), DamageKind("b", "b", "g")))


def posterior(seed: int = 1) -> Posterior:
    rng = np.random.default_rng(seed)
    coords = {"kind": ["a", "b"]}
    draws = xr.Dataset({"x": (("draw", "kind"), rng.normal(size=(50, 2)))}, coords=coords)
    diagnostics = Diagnostics(1.001, 900.0, 800.0, 0, 0.9, "x[1]", 0.9, False, 12.5)
    manifest = Manifest(
        seed=seed,
        as_of="2026-03-31",
        jobs=2,
        rows=3,
        data_hash="d",
        prior_hash="p",
        catalogue_digest="c",
        structure=structure_digest(CATALOGUE),
        kinds=("a", "b"),
        models={
            "success": ModelRecord(
                False, True, "", diagnostics, LikelihoodChecks(elpd_loo=-3.0), Fading(30.0, ("a",))
            ),
            "comeback": ModelRecord(True, True, "the record lacks sales"),
        },
        attempts={"a": ((1, 1), (2, 0), (0, 0)), "b": ((0, 0),) * 3},
        hopeless_gap={"a": 0.02},
        versions={"numpy": "2"},
        current=True,
        draws=50,
    )
    return Posterior({"success": draws, "comeback": draws * 2}, manifest)


@pytest.mark.parametrize(
    ("notes", "fading"),
    [
        ({}, None),
        ({"half_life_days": 400.0}, Fading(400.0)),
        ({"half_life_days of a": 30.0, "half_life_days of b": 30.0}, Fading(30.0, ("a", "b"))),
    ],
)
def test_values_stored_by_name_in_older_versions_are_read_into_their_fields(notes, fading):
    told = json.loads(json.dumps(posterior().manifest.to_json()))
    for record in told["models"].values():
        del record["likelihood"], record["fading"]
    told["models"]["success"]["notes"] = {"elpd_loo": -3.0, "high_k": 2.0, **notes}
    read = manifest_from(told).models
    assert read["success"].likelihood == LikelihoodChecks(elpd_loo=-3.0, high_k=2.0)
    assert read["success"].fading == fading
    assert (read["comeback"].likelihood, read["comeback"].fading) == (None, None)


def test_draws_return_to_single_precision_as_doubles(tmp_path):
    made = posterior()
    save_posterior(made, tmp_path / "new" / "folder")
    found = load_posterior(tmp_path / "new" / "folder", CATALOGUE)
    for name, draws in made.draws.items():
        assert found.draws[name]["x"].dtype == np.float64
        assert found.draws[name]["kind"].values.tolist() == ["a", "b"]
        # 32-bit floats hold 24 bits of mantissa.
        np.testing.assert_allclose(found.draws[name]["x"], draws["x"], rtol=2.0**-24)


def test_manifest_returns_whole(tmp_path):
    written = save_posterior(posterior(), tmp_path)
    found = load_posterior(tmp_path, CATALOGUE).manifest
    assert found == written
    assert found.belief_only == ("comeback",)
    assert manifest_from(json.loads(json.dumps(found.to_json()))) == found


def test_one_model_can_be_read_alone(tmp_path):
    save_posterior(posterior(), tmp_path)
    assert list(load_posterior(tmp_path, CATALOGUE, models=("success",)).draws) == ["success"]


def test_a_new_fit_is_used_and_the_last_five_are_kept(tmp_path):
    made = [save_posterior(posterior(seed), tmp_path).folder for seed in range(1, 8)]
    assert load_posterior(tmp_path, CATALOGUE).manifest.seed == 7
    assert [version.name for version in versions(tmp_path)] == made[:1:-1]
    assert [version.in_use for version in versions(tmp_path)] == [True, *[False] * 4]
    assert len(list(tmp_path.iterdir())) == 6  # the manifest and five folders of draws


def test_an_earlier_posterior_can_be_used_again(tmp_path):
    first = save_posterior(posterior(1), tmp_path)
    second = save_posterior(posterior(2), tmp_path)
    use_version(tmp_path, first.folder.removeprefix("draws-"))
    assert load_posterior(tmp_path, CATALOGUE).manifest == first
    assert [version.in_use for version in versions(tmp_path)] == [False, True]
    # One that was changed since is refused, and nothing moves.
    path = tmp_path / second.folder / "success.nc"
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(PosteriorError, match="truncated or was changed"):
        use_version(tmp_path, second.folder)
    with pytest.raises(PosteriorError, match="holds no posterior 'draws-none'"):
        use_version(tmp_path, "none")
    assert load_manifest(tmp_path) == first


def test_the_draws_of_an_older_program_can_be_used_again(tmp_path):
    old = save_posterior(posterior(1), tmp_path)
    (tmp_path / old.folder / "manifest.json").unlink()
    save_posterior(posterior(2), tmp_path)
    assert use_version(tmp_path, old.folder).seed == 1


def test_an_interrupted_save_keeps_the_old_posterior(tmp_path, monkeypatch):
    save_posterior(posterior(1), tmp_path)
    real = os.replace

    def interrupted(source, target):
        if Path(target).name == "manifest.json":
            raise KeyboardInterrupt
        real(source, target)

    monkeypatch.setattr("triage.posterior.store.os.replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        save_posterior(posterior(2), tmp_path)
    assert load_posterior(tmp_path, CATALOGUE).manifest.seed == 1
    assert not list(tmp_path.glob("*.tmp"))


@pytest.mark.parametrize("model", ["success", "comeback"])
@pytest.mark.parametrize("damage", ["truncated", "missing", "other contents"])
def test_a_damaged_file_is_refused_by_name(tmp_path, model, damage):
    manifest = save_posterior(posterior(), tmp_path)
    path = tmp_path / manifest.folder / f"{model}.nc"
    if damage == "missing":
        path.unlink()
    elif damage == "truncated":
        path.write_bytes(path.read_bytes()[:-100])
    else:
        other = {"success": "comeback", "comeback": "success"}[model]
        path.write_bytes((tmp_path / manifest.folder / f"{other}.nc").read_bytes())
    with pytest.raises(PosteriorError) as problem:
        load_posterior(tmp_path, CATALOGUE)
    assert str(path) in str(problem.value)
    assert problem.value.exit_code == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "run a fit first"),
        ("{ half", "cannot be read as JSON"),
        ("[]", "schema None is not 2"),
        ('{"schema": 1}', "schema 1 is not 2"),
        ('{"schema": 2}', "not a complete manifest"),
        ('{"schema": 2, "models": {"success": 3}}', "not a complete manifest"),
    ],
)
def test_a_bad_manifest_is_refused_by_name(tmp_path, text, said):
    if text is not None:
        (tmp_path / "manifest.json").write_text(text)
    with pytest.raises(PosteriorError) as problem:
        load_posterior(tmp_path, CATALOGUE)
    assert said in str(problem.value)
    assert str(tmp_path / "manifest.json") in str(problem.value)


def test_another_catalogue_is_refused_and_the_difference_named(tmp_path):
    save_posterior(posterior(), tmp_path)
    other = Catalogue(kind=(DamageKind("a", "a", "f"), DamageKind("c", "c", "g")))
    with pytest.raises(StalePosteriorError, match="not in the fit: c; not in the catalogue: b"):
        load_posterior(tmp_path, other)


def test_changed_methods_or_families_are_refused_but_changed_wording_is_not(tmp_path):
    save_posterior(posterior(), tmp_path)
    for other in (
        replace(CATALOGUE, repair=(Repair("mend", "mend", ("a",)),)),
        replace(CATALOGUE, kind=(DamageKind("a", "a", "g"), DamageKind("b", "b", "g"))),
    ):
        with pytest.raises(StalePosteriorError, match="the same kinds"):
            load_posterior(tmp_path, other)
    words = replace(CATALOGUE, kind=(DamageKind("a", "Another name", "f"), DamageKind("b", "b", "g")))
    assert load_posterior(tmp_path, words).manifest.kinds == ("a", "b")


def test_interval_holds_nine_in_ten():
    low, high = interval(np.arange(101.0))
    assert (low, high) == pytest.approx((5.0, 95.0))


def updated(full: Manifest, as_of: str) -> Posterior:
    """An update of a stored full fit that happens to leave its draws as they are."""
    mark = QuickUpdate(full.folder, full.as_of, 2, 1, {"success": 0.1}, {"success": 40.0})
    made = posterior(full.seed)
    return replace(made, manifest=replace(made.manifest, as_of=as_of, update=mark, job_digests=()))


def test_an_update_never_replaces_its_full_fit(tmp_path):
    digests = ("0a", "1b")
    made = posterior(1)
    full = save_posterior(replace(made, manifest=replace(made.manifest, job_digests=digests)), tmp_path)
    days = [save_posterior(updated(full, f"2026-04-0{day}"), tmp_path) for day in range(1, 5)]
    assert load_manifest(tmp_path) == days[-1] and days[-1].update.fitted == full.folder
    assert last_full_fit(tmp_path) == full and full.job_digests == digests
    # Updates push out one another, and no full fit.
    assert [version.name for version in versions(tmp_path)] == [days[3].folder, days[2].folder, full.folder]
    later = [save_posterior(posterior(seed), tmp_path).folder for seed in range(2, 8)]
    assert full.folder in {version.name for version in versions(tmp_path)}, "an update of it is still kept"
    assert later[0] not in {version.name for version in versions(tmp_path)}
    use_version(tmp_path, days[2].folder)
    assert last_full_fit(tmp_path) == full
