"""A shop's own catalogue cannot disable a safety rule: the fault names the rule."""

from __future__ import annotations

import pytest

from triage.domain.catalogue import load_catalogue
from triage.errors import CatalogueError

FAMILY = '[[family]]\nslug = "power-cell"\nname = "Power cell"\n'


def loaded(tmp_path, text):
    path = tmp_path / "own.toml"
    path.write_text(FAMILY + text, encoding="utf-8")
    return load_catalogue(path)


def kind(slug, more=""):
    return f'[[kind]]\nslug = "{slug}"\nname = "{slug}"\nfamily = "power-cell"\n{more}\n'


def repair(closes, acts, parts='["battery"]'):
    return (
        f'[[repair]]\nslug = "own-fix"\nname = "Own fix"\ncloses = ["{closes}"]\n'
        f"acts = {acts}\nparts = {parts}\n"
        '[[part]]\nslug = "battery"\nname = "battery"\n'
    )


@pytest.mark.parametrize(
    ("text", "field", "rule"),
    [
        (kind("cell-swollen", 'role = "risk"'), "kind cell-swollen, role", "closing-needs-a-sound-battery"),
        (
            kind("cell-swollen", "needed = false"),
            "kind cell-swollen, needed",
            "closing-needs-a-sound-battery",
        ),
        (kind("cell-bent", 'battery = "none"'), "kind cell-bent, battery", "closing-needs-a-sound-battery"),
        (kind("frame-bent", 'battery = "none"'), "kind frame-bent, battery", "closing-needs-a-sound-battery"),
        (kind("liquid-on-board", "liquid = false"), "kind liquid-on-board, liquid", "test-needs-dry"),
        (
            kind("own", 'battery = "hazard"\nneeded = false'),
            "kind own, needed",
            "closing-needs-a-sound-battery",
        ),
        (kind("cell-swollen") + repair("cell-swollen", '["press"]'), "acts", "press-needs-a-sound-battery"),
        (kind("cell-swollen") + repair("cell-swollen", '["charge"]'), "acts", "charge-needs-a-sound-battery"),
        (
            kind("cell-swollen") + repair("cell-swollen", '["heat"]'),
            "acts",
            "rework-heat-needs-the-battery-out",
        ),
        (kind("cell-bent") + repair("cell-bent", '["pry"]', "[]"), "parts", "closing-needs-a-sound-battery"),
    ],
)
def test_an_entry_that_loosens_a_rule_is_refused_by_the_rules_name(tmp_path, text, field, rule):
    with pytest.raises(CatalogueError) as refusal:
        loaded(tmp_path, text)
    (fault,) = refusal.value.faults
    assert field in fault.field and rule in fault.wrong and fault.line


@pytest.mark.parametrize("lesser", ["cell-swollen", "liquid-on-board", "account-locked"])
def test_what_a_rule_is_judged_by_is_never_counted_with_another_damage(tmp_path, lesser):
    with pytest.raises(CatalogueError) as refusal:
        loaded(tmp_path, kind("own", f'covers = ["{lesser}"]') + kind(lesser))
    (fault,) = refusal.value.faults
    assert fault.field == "kind own, covers" and lesser in fault.wrong and fault.line


def test_a_shipped_kind_named_again_keeps_what_it_does_to_the_battery(tmp_path):
    own = loaded(tmp_path, kind("cell-swollen") + kind("liquid-on-board") + kind("own-scratch"))
    assert own.kinds["cell-swollen"].battery == "hazard"
    assert own.kinds["liquid-on-board"].liquid and own.kinds["own-scratch"].battery == "none"


def test_a_shops_own_bad_cell_closed_by_a_new_battery_is_accepted(tmp_path):
    own = loaded(tmp_path, kind("own-cell-torn", 'battery = "hazard"') + repair("own-cell-torn", '["pry"]'))
    assert own.kinds["own-cell-torn"].battery == "hazard"
