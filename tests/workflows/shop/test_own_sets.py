"""The shop's own sets: names lead nowhere else, the shipped one is never written, a broken one is said."""

from __future__ import annotations

import pytest

from triage.domain.catalogue import load_catalogue
from triage.errors import BeliefError
from triage.priors.success import KindBelief
from triage.shipped import shipped
from triage.workflows.shop.own_sets import (
    choose_set,
    chosen_set,
    keep_belief,
    named_folder,
    own_sets,
    sets_home,
    with_chosen_set,
)
from triage.workflows.shop.shop_files import ShopFiles

DEMO = shipped("models/priors/demo")


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


@pytest.mark.parametrize("name", ["", " ", "..", "../x", "a/b", "a\\b", ".hidden", "-x", "x" * 41, "a\0b"])
def test_a_name_that_could_lead_elsewhere_is_refused(name, tmp_path):
    with pytest.raises(BeliefError, match="letters and digits"):
        named_folder(name, tmp_path)


@pytest.mark.parametrize("name", ["mine", "after the flood 2026", "Märzset", "x-1"])
def test_an_ordinary_name_is_a_folder_of_the_home(name, tmp_path):
    assert named_folder(f" {name} ", tmp_path).parent == tmp_path


def test_sets_lie_beside_the_record(monkeypatch, tmp_path):
    monkeypatch.delenv("TRIAGE_BELIEFS", raising=False)
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "record.sqlite"))
    assert sets_home() == tmp_path / "beliefs"
    monkeypatch.setenv("TRIAGE_RECORD", "postgresql://shop@db/bench")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert sets_home() == tmp_path / "bench-triage" / "beliefs"


def test_the_set_in_use_stands_first_and_a_broken_one_is_said(catalogue, tmp_path):
    keep_belief(KindBelief("torch-dead", 0.8, 5, "seen"), tmp_path / "mine", DEMO, catalogue)
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "success.toml").write_text("[[kind]]\nslug = 3\n")
    in_use, broken, mine = own_sets(DEMO, catalogue, tmp_path)
    assert in_use.in_use and in_use.words == "demo (in use)" and not mine.in_use
    assert "success.toml" in broken.problem
    assert mine.priors.success.belief("torch-dead").reason == "seen"
    # The set that the shop was opened with is not told twice.
    assert [item.name for item in own_sets(tmp_path / "mine", catalogue, tmp_path)] == ["mine", "broken"]


def test_neither_a_belief_without_a_reason_nor_the_shipped_set_is_written(catalogue, tmp_path):
    with pytest.raises(BeliefError, match="needs a reason"):
        keep_belief(KindBelief("torch-dead", 0.8, 5, " "), tmp_path / "mine", DEMO, catalogue)
    with pytest.raises(BeliefError, match="cannot be changed"):
        keep_belief(KindBelief("torch-dead", 0.8, 5, "why"), DEMO, DEMO, catalogue)
    assert not list(tmp_path.iterdir())


def test_the_set_that_is_chosen_takes_the_demos_place_but_not_a_named_ones(catalogue, tmp_path, monkeypatch):
    monkeypatch.setenv("TRIAGE_BELIEFS", str(tmp_path))
    with pytest.raises(BeliefError, match="not a set of yours"):
        choose_set("mine")
    keep_belief(KindBelief("torch-dead", 0.8, 5, "seen"), tmp_path / "mine", DEMO, catalogue)
    assert with_chosen_set(ShopFiles()) == ShopFiles()
    choose_set("mine")
    assert with_chosen_set(ShopFiles()).priors == tmp_path / "mine"
    assert with_chosen_set(ShopFiles(priors=DEMO)).priors == DEMO
    (tmp_path / "in-use.txt").write_text("../elsewhere")
    assert chosen_set() is None
    choose_set(None)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mine"]
