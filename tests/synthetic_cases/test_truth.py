"""The invented truth agrees with the catalogue and with its own description."""

import numpy as np
import pytest

from synthetic_cases.truth import SHIPPED, load_truth
from triage.errors import InputError


def logit(chance):
    chance = np.asarray(chance)
    return np.log(chance / (1 - chance))


def test_every_kind_of_the_catalogue_is_in_the_section_of_its_role(truth, catalogue):
    by_role = {role: {k.slug for k in catalogue.kind if k.role == role} for role in ("repair", "risk")}
    assert set(truth.kinds) == by_role["repair"]
    assert set(truth.risks) == by_role["risk"]
    assert set(truth.hidden) == {kind.slug for kind in catalogue.hidden_kinds}
    assert set(truth.families) == set(catalogue.families)


def test_hidden_faults_are_raised_by_what_the_catalogue_says_raises_them(truth, catalogue):
    for slug, fault in truth.hidden.items():
        for kind in fault.raised_by:
            assert slug in catalogue.kinds[kind].raises, (kind, slug)


def test_every_other_method_has_its_difference_stated(truth, catalogue):
    others = {r.slug for slug in truth.kinds for r in catalogue.repairs_for(slug)[1:]}
    assert others == set(truth.methods)


def test_effects_sum_to_zero(truth):
    for group in (truth.technicians, truth.tiers, truth.causes):
        assert sum(entry.effect for entry in group.values()) == pytest.approx(0, abs=1e-12)


def test_a_third_of_the_beliefs_are_a_logit_off_and_the_others_close(truth):
    gap = np.abs([logit(kind.chance[1]) - logit(kind.belief) for kind in truth.kinds.values()])
    # Chances are written to three decimals, so a logit near .99 is known to .05.
    assert np.sum(np.abs(gap - 1) < 0.06) == len(truth.kinds) // 3
    assert np.sum(gap < 0.26) == len(truth.kinds) - len(truth.kinds) // 3


def test_chances_fall_with_severity(truth):
    chance = np.array([kind.chance for kind in truth.kinds.values()])
    assert (np.diff(chance, axis=1) <= 0).all()
    assert ((chance > 0) & (chance < 1)).all()


def test_ruins_are_the_world_s_own_for_the_kinds_and_parts_of_the_catalogue(truth, catalogue):
    """Of the order of the catalogue's guesses, so that guesses can be wrong; never the same table."""
    here = {(kind, part) for kind, parts in truth.ruins.items() for part in parts}
    told = [ruin for ruin in catalogue.ruin if catalogue.kinds[ruin.kind].role != "stop"]
    # Four more guesses, about the bundle of small parts alone: in this world they change nothing.
    untrue = {ruin.kind for ruin in told if (ruin.kind, ruin.part) not in here}
    assert untrue == {"coil-torn", "brackets-missing", "antenna-flex-torn", "port-ground-bracket-lost"}
    told = [ruin for ruin in told if ruin.kind not in untrue or ruin.part != "rest"]
    assert {(ruin.kind, ruin.part) for ruin in told} == here
    own = [truth.ruins[ruin.kind][ruin.part] for ruin in told]
    assert [ruin.stays for ruin in own] == [ruin.stays for ruin in told]
    pairs = [
        (a, b)
        for mine, guess in zip(own, told, strict=True)
        for one, other in ((mine.chance, guess.chance), (mine.left, guess.left))
        for a, b in zip(one, other, strict=True)
        if 0 < b < 1
    ]
    off = np.array([logit(np.clip(a, 0.005, 0.995)) - logit(b) for a, b in pairs])
    assert 0.2 < np.sqrt((off**2).mean()) < 0.8 and abs(off.mean()) < 0.2
    assert all(np.all(np.diff(ruin.chance) >= 0) and np.all(np.diff(ruin.left) <= 0) for ruin in own)


def test_a_missing_field_is_named_with_its_line(tmp_path):
    file = tmp_path / "truth.toml"
    file.write_text(SHIPPED.read_text(encoding="utf-8").replace("second_try = 0.65\n", ""), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_truth(file)
    (fault,) = caught.value.faults
    assert (fault.field, fault.wrong) == ("bench, second_try", "is missing") and fault.line
