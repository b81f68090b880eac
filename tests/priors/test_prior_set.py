"""Prior files: read together, refused with every fault at once."""

from __future__ import annotations

import pytest

from triage.domain.catalogue import Catalogue, load_catalogue
from triage.domain.catalogue_entries import Check, DamageKind, Repair, Symptom
from triage.errors import PriorFileError
from triage.priors.prior_set import PriorSet, load_priors
from triage.shipped import shipped

CATALOGUE = Catalogue(
    kind=(DamageKind("port-dirty", "x", "f"), DamageKind("cell-worn", "x", "f")),
    repair=(Repair("clean-port", "x", ("port-dirty",)),),
    check=(Check("look", "x", ("port-dirty",)),),
    symptom=(Symptom("no-charge", "x", ("port-dirty", "cell-worn")),),
)


def write(folder, **files: str):
    for name, text in files.items():
        (folder / f"{name}.toml").write_text(text)
    return folder


def test_demo_priors_speak_for_every_repairable_kind_and_say_why():
    catalogue = load_catalogue()
    priors = load_priors(shipped("models/priors/demo"), catalogue)
    for kind in catalogue.kind:
        if kind.role == "repair":
            assert priors.success.beliefs[kind.slug].reason
    assert "nvented" in priors.success.note


def test_no_folder_and_an_empty_folder_mean_the_defaults(tmp_path):
    assert load_priors(None, CATALOGUE) == load_priors(tmp_path, CATALOGUE) == PriorSet()


def test_kinds_and_repairs_the_files_do_not_name_take_stated_defaults(tmp_path):
    text = '[default]\nchance = 0.6\njobs = 2\n[[kind]]\nslug = "cell-worn"\nchance = 0.9\njobs = 9\n'
    priors = load_priors(write(tmp_path, success=text), CATALOGUE)
    assert [priors.success.belief(kind).chance for kind in ("cell-worn", "port-dirty")] == [0.9, 0.6]
    belief = priors.repairs.repair_belief("clean-port")
    assert 0 < belief.collateral_chance < 0.1
    causes = priors.repairs.causes("no-charge", CATALOGUE)
    assert causes == {"port-dirty": 0.45, "cell-worn": 0.45}


def test_a_belief_worth_four_times_the_jobs_is_twice_as_firm(tmp_path):
    text = '[[repair]]\nslug = "clean-port"\nmethod_jobs = 16\n'
    firm = load_priors(write(tmp_path, repairs=text), CATALOGUE).repairs.repair_belief("clean-port")
    assert firm.method_sd == pytest.approx(PriorSet().repairs.repair_belief("clean-port").method_sd / 2)


def test_every_fault_of_every_file_is_told_with_its_line(tmp_path):
    success = (
        '[[kind]]\nslug = "port-dirt"\nchance = 0.9\njobs = 4\n'
        '[[kind]]\nslug = "cell-worn"\nchance = 0.5\njobs = 4\n'
        '[[kind]]\nslug = "cell-worn"\nchance = 0.5\njobs = 4\n'
    )
    repairs = '[[symptom]]\nslug = "no-charge"\n[symptom.causes]\nport-dirty = 0.8\ncell-worn = 0.7\n'
    write(tmp_path, success=success, repairs=repairs, comeback="rate = -1\n", succes="")
    with pytest.raises(PriorFileError) as problem:
        load_priors(tmp_path, CATALOGUE)
    text = str(problem.value)
    folder = str(tmp_path)
    assert f"{folder}/success.toml, line 2, kind 1, slug" in text
    assert "nearest known: port-dirty" in text
    assert f"{folder}/success.toml, line 10, kind 3, slug: 'cell-worn' is given twice" in text
    assert "the chances sum to 1.5; allowed: at most 1 in all" in text
    assert f"{folder}/comeback.toml, line 1, rate" in text
    assert "no model reads this file; nearest known: success" in text
    assert len(problem.value.faults) == 5


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[default]\nchance = 1.0\njobs = 3\n", "default, chance"),
        ("[default]\nchance = 0.5\njobs = 0\n", "default, jobs"),
        ("[scales]\njobs = 1\n", "is not a known field; nearest known: job"),
        ("[scales\n", "well-formed TOML"),
        ("[severity]\nstep = nan\n", "severity, step"),
    ],
)
def test_impossible_beliefs_are_refused(tmp_path, text, said):
    with pytest.raises(PriorFileError, match="line") as problem:
        load_priors(write(tmp_path, success=text), CATALOGUE)
    assert said in str(problem.value)


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(PriorFileError, match="is not a folder"):
        load_priors(tmp_path / "nowhere", CATALOGUE)


def test_digest_changes_with_any_belief(tmp_path):
    text = "[default]\nchance = 0.6\njobs = 2\n"
    assert load_priors(write(tmp_path, success=text), CATALOGUE).digest != PriorSet().digest
    assert PriorSet().digest == PriorSet().digest
