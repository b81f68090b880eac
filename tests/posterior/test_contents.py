"""A stored posterior with broken contents is refused with one sentence and never partly used."""

from __future__ import annotations

import hashlib
import json
import shutil

import numpy as np
import pytest
import xarray as xr

from triage.domain.catalogue import load_catalogue
from triage.domain.units.unit_file import load_unit
from triage.errors import PosteriorError
from triage.posterior.store import load_manifest, load_posterior
from triage.shipped import shipped
from triage.workflows.answers.assess import assess
from triage.workflows.shop.shop import open_shop

CATALOGUE = load_catalogue()
DEMO = shipped("models/posteriors/demo")
MODELS = ("success", "hidden_fault", "bench_minutes", "parts_cost", "comeback", "sale_price")


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(DEMO, tmp_path / "posterior")


def rewrite(folder, model, change):
    """Change the draws of a model, and update the manifest as if a fit had made them."""
    manifest = json.loads((folder / "manifest.json").read_text())
    file = folder / manifest["folder"] / manifest["files"][model][0]
    draws = change(xr.load_dataset(file, engine="h5netcdf"))
    encoding = {name: {"zlib": True} for name in draws.data_vars}
    draws.to_netcdf(file, engine="h5netcdf", encoding=encoding)
    manifest["files"][model][1] = hashlib.sha256(file.read_bytes()).hexdigest()
    (folder / "manifest.json").write_text(json.dumps(manifest))


def one_nan(draws):
    name = next(iter(draws.data_vars))
    values = draws[name].to_numpy().copy()
    values.flat[-1] = np.nan
    return draws.assign({name: (draws[name].dims, values)})


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize(
    ("change", "said"),
    [
        (one_nan, "no finite number"),
        (lambda draws: draws.isel(draw=slice(0, 0)), "holds no draws"),
    ],
)
def test_broken_draws_are_refused(folder, model, change, said):
    rewrite(folder, model, change)
    with pytest.raises(PosteriorError, match=said) as refusal:
        load_posterior(folder, CATALOGUE)
    assert f"{model}.nc" in str(refusal.value) and "\n" not in str(refusal.value)


@pytest.mark.parametrize("model", MODELS)
def test_a_variable_that_is_missing_is_named_when_it_is_wanted(folder, model):
    name = next(iter(xr.load_dataset(next(folder.glob(f"draws-*/{model}.nc")), engine="h5netcdf").data_vars))
    rewrite(folder, model, lambda draws: draws.drop_vars(name))
    shop = open_shop(posterior=folder)
    unit = load_unit(shipped("synthetic_cases/devices/harbour-tablet.toml"), shop.catalogue, shop.prices)
    with pytest.raises(PosteriorError, match=f"lacks {name}; run the fit again"):
        assess(unit, shop, 40.0)


def test_a_small_file_that_would_expand_to_gigabytes_is_refused_unread(folder):
    rewrite(
        folder,
        "comeback",
        lambda draws: draws.assign(zeros=(("draw", "many"), np.zeros((draws.sizes["draw"], 70_000)))),
    )
    assert (folder / json.loads((folder / "manifest.json").read_text())["folder"]).exists()
    with pytest.raises(PosteriorError, match="GB of memory"):
        load_posterior(folder, CATALOGUE)


@pytest.mark.parametrize(
    "field", sorted(json.loads((DEMO / "manifest.json").read_text()).keys() - {"belief_only"})
)
@pytest.mark.parametrize("value", [[[{}]], {"a": {"b": 1}}])
def test_a_manifest_with_a_wrong_type_in_a_field_is_refused(folder, field, value):
    told = json.loads((folder / "manifest.json").read_text())
    (folder / "manifest.json").write_text(json.dumps({**told, field: value}))
    with pytest.raises(PosteriorError) as refusal:
        load_manifest(folder)
    assert "manifest.json" in str(refusal.value) and "\n" not in str(refusal.value)


@pytest.mark.parametrize("name", ["../elsewhere", "/etc", "a/b"])
def test_a_manifest_cannot_name_a_folder_elsewhere(folder, name):
    told = json.loads((folder / "manifest.json").read_text())
    (folder / "manifest.json").write_text(json.dumps({**told, "folder": name}))
    with pytest.raises(PosteriorError, match="no name of a file beside it"):
        load_manifest(folder)


def test_a_manifest_nested_without_end_is_refused(folder):
    (folder / "manifest.json").write_text("[" * 100_000)
    with pytest.raises(PosteriorError, match="cannot be read"):
        load_manifest(folder)
