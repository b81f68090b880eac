"""`triage posterior`: earlier fits are listed, used again, and said to be old or mismatched."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace

import pytest

from triage.domain.catalogue import load_catalogue
from triage.posterior.store import load_posterior, save_posterior
from triage.shipped import shipped


@pytest.fixture
def folder(tmp_path):
    """The demo's draws, and a later fit of other draws beside them."""
    path = tmp_path / "draws"
    shutil.copytree(shipped("models/posteriors/demo"), path)
    held = load_posterior(path, load_catalogue())
    later = {name: draws.isel(draw=slice(0, 50)) for name, draws in held.draws.items()}
    save_posterior(replace(held, draws=later, manifest=replace(held.manifest, as_of="2026-09-30")), path)
    return path


def test_list_use_and_status(triage, folder):
    held = json.loads(triage("posterior", "list", folder, "--json").out)["versions"]
    assert [(one["as_of"], one["in_use"]) for one in held] == [("2026-09-30", True), ("2026-08-31", False)]
    used = triage("posterior", "use", folder, held[1]["draws"])
    assert used.code == 0 and "up to 2026-08-31" in used.out
    assert [line[:6] for line in triage("posterior", "list", folder).out.splitlines()] == ["saved ", "in use"]
    status = triage("posterior", "status", folder, "--as-of", "2026-12-25", "--json")
    told = json.loads(status.out)
    assert told["draws"] == held[1]["draws"] and told["level"] == "warning"
    assert "ended 116 days ago" in told["words"]


def test_health_says_whether_it_can_be_trusted(triage, folder):
    told = json.loads(triage("posterior", "health", folder, "--json").out)
    assert told["verdict"].startswith("This fit can be trusted") and told["trust"] in ("yes", "with care")
    success = next(one for one in told["models"] if one["model"] == "success")
    assert {figure["name"] for figure in success["figures"]} >= {"R-hat", "Divergences", "Quadrature error"}
    said = triage("posterior", "health", folder)
    words = " ".join(said.out.split())
    assert said.code == 0 and words.startswith(told["verdict"])
    assert "chance of repair: can be trusted" in words


def test_what_is_not_there_is_said(triage, folder, tmp_path):
    said = triage("posterior", "use", folder, "nothing")
    assert said.code == 2 and "stored: draws-" in said.err
    assert triage("posterior", "list", tmp_path).code == 2


def test_an_answer_from_old_chances_says_so_beside_it(triage, folder, unit_file):
    said = triage("assess", unit_file, "--posterior", folder, "--as-of", "2027-02-01", "--json")
    assert said.code == 0 and json.loads(said.out)
    assert "ended 124 days ago, on 2026-09-30" in said.err
