"""What damage does to the parts of a wreck: shipped (common practice, no source) and a shop's own."""

from __future__ import annotations

import pytest

from triage.domain.catalogue import load_catalogue
from triage.errors import CatalogueError

CATALOGUE = load_catalogue()
# Damage of these families is damage to the part itself.
HOME = {"main-board": "main-board", "display": "display"}
OWN = """\
[[kind]]
slug = "joint-cracked"
name = "joint"
family = "board"
hidden = true

[[kind]]
slug = "jelly"
name = "jelly inside"
family = "board"
"""


@pytest.mark.parametrize("ruin", CATALOGUE.ruin, ids=lambda ruin: f"{ruin.kind} {ruin.part}")
def test_worse_damage_never_leaves_more(ruin):
    assert list(ruin.chance) == sorted(ruin.chance)
    assert list(ruin.left) == sorted(ruin.left, reverse=True)
    assert ruin.chance[2] > 0 or ruin.left[2] < 1, "says nothing"
    assert ruin.part != "testing" or set(ruin.left) == {1.0}


def test_one_damage_says_once_what_it_does_to_a_part():
    pairs = [(ruin.kind, ruin.part) for ruin in CATALOGUE.ruin]
    assert len(pairs) == len(set(pairs))


def test_every_damage_of_a_board_or_display_takes_something_off_it():
    for kind in CATALOGUE.kind:
        if kind.family in HOME:
            assert HOME[kind.family] in [ruin.part for ruin in CATALOGUE.ruins_of(kind.slug)], kind.slug


def test_a_dead_or_locked_board_is_worth_nothing():
    # Common practice, no source: a dead or locked board 0; a panel that is black 0.
    for kind, part in [
        ("storage-or-processor-dead", "main-board"),
        ("account-locked", "main-board"),
        ("display-panel-dead", "display"),
    ]:
        (ruin,) = [ruin for ruin in CATALOGUE.ruins_of(kind) if ruin.part == part]
        assert ruin.chance[2] == 1.0


def test_a_shops_own_catalogue_keeps_what_shipped_damage_does(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(OWN, encoding="utf-8")
    own = load_catalogue(path)
    assert own.ruins_of("joint-cracked") == CATALOGUE.ruins_of("joint-cracked") != ()
    assert own.ruins_of("jelly") == ()
    ruin = '\n[[ruin]]\nkind = "jelly"\npart = "cameras"\nchance = [0.1, 0.2, 0.3]\n'
    other = tmp_path / "other.toml"
    other.write_text(OWN + ruin, encoding="utf-8")
    assert [entry.part for entry in load_catalogue(other).ruin] == ["cameras"]


@pytest.mark.parametrize(
    "wrong, field, line",
    [
        (('kind = "jelly"', 'kind = "jely"'), "ruin 1, kind", 13),
        (('"cameras"', '"camera"'), "ruin 1, part", 14),
        (("[0.1, 0.2, 0.3]", "[0.1, 0.2, 1.3]"), "ruin 1, chance 3", 15),
        (("[0.1, 0.2, 0.3]", "[0.1, 0.2]"), "ruin 1, chance 3", 15),
    ],
)
def test_a_wrong_ruin_is_named_with_its_line(tmp_path, wrong, field, line):
    path = tmp_path / "own.toml"
    ruin = '\n[[ruin]]\nkind = "jelly"\npart = "cameras"\nchance = [0.1, 0.2, 0.3]\n'
    path.write_text(OWN + ruin.replace(*wrong), encoding="utf-8")
    with pytest.raises(CatalogueError) as problem:
        load_catalogue(path)
    assert (field, line) in [(fault.field, fault.line) for fault in problem.value.faults]
