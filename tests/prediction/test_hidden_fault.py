import numpy as np
import pytest
import xarray as xr
from scipy.special import expit

from tests.outcome_models.joint_draws import joint_draws
from tests.outcome_models.small_shop import HIDDEN, RAISER, small_catalogue, small_history
from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.units.unit import Finding
from triage.errors import StalePosteriorError
from triage.outcome_models.hidden_fault import MODEL
from triage.prediction.hidden_fault import hidden_chance
from triage.priors.hidden_fault import HiddenFaultPriors, pair_label
from triage.priors.prior_set import PriorSet

PRIORS = HiddenFaultPriors()
KINDS = (
    DamageKind("bend", "bend", "board", raises=("crack",)),
    DamageKind("knock", "knock", "board", raises=("crack",)),
    DamageKind("scuff", "scuff", "board"),
    DamageKind("crack", "crack", "board", hidden=True),
)
CATALOGUE = Catalogue(family=(Family("board", "board"),), kind=KINDS)


def draws(base=-2.0, bend=1.0, knock=0.5):
    pairs = [pair_label("bend", "crack"), pair_label("knock", "crack")]
    return xr.Dataset(
        {"base": (("draw", "hidden_kind"), [[base]]), "weight": (("draw", "pair"), [[bend, knock]])},
        coords={"hidden_kind": ["crack"], "pair": pairs},
    )


def chance(*findings, **options):
    return hidden_chance(draws(), "crack", findings, CATALOGUE, PRIORS, **options)[0]


def test_matches_the_graph_of_the_model():
    """The log odds of every opened job, by the model's graph and by the prediction."""
    catalogue, priors = small_catalogue(), PriorSet()
    design = MODEL.design(small_history(60), catalogue, priors)
    graph = MODEL.build(design, priors)
    held, in_graph = joint_draws(graph, MODEL.stored, graph["found"].owner.inputs[-1])  # (draw, pattern)
    grades = {0.0: None, **dict(zip(priors.hidden_fault.severity_factor, (1, 2, 3), strict=True))}
    for pattern, factor in enumerate(design.factor[:, 0]):
        findings = [Finding(RAISER, grades[factor])] if factor else []
        predicted = hidden_chance(held, HIDDEN, findings, catalogue, priors.hidden_fault)
        assert predicted == pytest.approx(in_graph[:, pattern], abs=1e-10)


def test_findings_add_by_severity_and_others_do_nothing():
    assert chance() == pytest.approx(expit(-2.0))
    assert chance(Finding("scuff", 3)) == chance()
    assert chance(Finding("bend", 3), Finding("knock", 1)) == pytest.approx(expit(-2.0 + 1.4 + 0.3))


def test_a_suspected_finding_is_averaged_over():
    both = 0.5 * expit(-1.0) + 0.5 * expit(-2.0)
    assert chance(Finding("bend", 2, chance=0.5)) == pytest.approx(both)
    assert chance(Finding("bend", 2, chance=0.0)) == chance()
    two = chance(Finding("bend", 2, chance=0.3), Finding("knock", 2, chance=0.6))
    by_hand = sum(
        (0.3 if b else 0.7) * (0.6 if k else 0.4) * expit(-2.0 + b + 0.5 * k) for b in (0, 1) for k in (0, 1)
    )
    assert two == pytest.approx(by_hand)


def test_a_suspect_battery_counts_as_one_average_finding_unless_a_finding_says_why():
    assert chance(battery_suspect=True) == pytest.approx(expit(-2.0 + 0.75))
    assert chance(Finding("bend"), battery_suspect=True) == chance(Finding("bend"))


def test_draws_of_another_catalogue_are_refused():
    with pytest.raises(StalePosteriorError, match="does not know hidden kind 'split'"):
        hidden_chance(draws(), "split", (), CATALOGUE, PRIORS)


def test_every_draw_is_used():
    many = xr.concat([draws(), draws(base=1.0)], dim="draw")
    found = hidden_chance(many, "crack", (), CATALOGUE, PRIORS)
    assert found == pytest.approx(expit(np.array([-2.0, 1.0])))
