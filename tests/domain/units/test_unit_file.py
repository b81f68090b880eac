"""UNIT.toml: the unit from a valid file, and all faults of an invalid one together."""

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.documents import parse_toml
from triage.domain.shop.price_book import PriceBook, Tier
from triage.domain.units.unit import Finding, Ownership
from triage.domain.units.unit_file import load_unit, parse_chance, unit_from, without_finding
from triage.errors import UnitFileError

CATALOGUE = load_catalogue()
PRICES = PriceBook((Tier("budget", "Budget", 70, 22, 7), Tier("top", "Top", 620, 215, 65)))

GOOD = """\
symptom = ["no-service"]

[device]
name = "tablet from the harbour office"
tier = "top"
cause = "dropped"
technician = "north-bench"
working_price = 600
battery = "suspect"
data_wanted = true

[ownership]
lock = "locked-to-owner"
proof_recorded = true

[[finding]]
kind = "display-glass-cracked"
severity = 3
zone = "front"

[[finding]]
kind = "joint-cracked"
chance = "8 in 20"
"""

BAD = """\
symptom = ["no-servise"]

[device]
tier = "budgt"
working_price = -5
battery = "swollen"

[[finding]]
kind = "display-glas-cracked"
severity = 4

[[finding]]
kind = "joint-cracked"
chance = "25 in 20"
zone = "frnt"

[[finding]]
severity = true
colour = "red"

[ownership]
lock = "open"
"""


def read(text):
    return unit_from(parse_toml(text, "unit.toml", UnitFileError), CATALOGUE, PRICES)


def faults_of(text):
    with pytest.raises(UnitFileError) as problem:
        read(text)
    return problem.value.faults


def test_a_good_file_becomes_a_unit(tmp_path):
    path = tmp_path / "unit.toml"
    path.write_text(GOOD, encoding="utf-8")
    unit = load_unit(path, CATALOGUE, PRICES)
    assert (unit.name, unit.tier, unit.cause, unit.technician) == (
        "tablet from the harbour office",
        "top",
        "dropped",
        "north-bench",
    )
    assert (unit.working_price, unit.parts_value, unit.battery, unit.data_wanted) == (
        600.0,
        None,
        "suspect",
        True,
    )
    assert unit.ownership == Ownership("locked-to-owner", "not-checked", proof_recorded=True)
    assert unit.findings == (
        Finding("display-glass-cracked", 3, "front"),
        Finding("joint-cracked", 2, chance=0.4),
    )
    assert [finding.seen for finding in unit.findings] == [True, False]
    assert unit.symptoms == ("no-service",)


def test_name_and_tier_are_enough():
    unit = read('[device]\nname = "wreck"\ntier = "budget"\n')
    assert unit.findings == () and unit.battery == "not-seen"
    assert unit.ownership == Ownership(lock="cannot-tell", identity="not-checked")


def test_all_faults_are_reported_together_with_their_lines():
    assert [(fault.line, fault.field, fault.wrong) for fault in faults_of(BAD)] == [
        (1, "symptom", "'no-servise' is not a known symptom; nearest known: no-service"),
        (3, "device, name", "is missing"),
        (4, "device, tier", "'budgt' is not a known tier; nearest known: budget"),
        (5, "device, working_price", "-5 is not accepted"),
        (6, "device, battery", "'swollen' is not accepted"),
        (
            9,
            "finding 1, kind",
            "'display-glas-cracked' is not a known damage kind; nearest known: display-glass-cracked",
        ),
        (10, "finding 1, severity", "4 is not accepted"),
        (14, "finding 2, chance", "'25 in 20' is not accepted"),
        (15, "finding 2, zone", "'frnt' is not a known zone; nearest known: front"),
        (17, "finding 3, kind", "is missing"),
        (18, "finding 3, severity", "True is not accepted"),
        (19, "finding 3, colour", "is not a known field"),
        (22, "ownership, lock", "'open' is not accepted"),
    ]


def test_every_fault_says_what_is_allowed():
    allowed = {fault.field: fault.allowed for fault in faults_of(BAD)}
    assert allowed["device, tier"] == "budget, top"
    assert allowed["device, working_price"] == "greater than or equal to 0"
    assert allowed["finding 1, severity"] == "less than or equal to 3"
    assert allowed["finding 2, chance"] == 'a number from 0 to 1, or a count such as "8 in 20"'
    assert "'cannot-tell'" in allowed["ownership, lock"]
    assert allowed["finding 1, kind"].endswith(f"and {len(CATALOGUE.kind) - 12} more")


@pytest.mark.parametrize("line", ['kind = ""', "kind = 3", 'kind = ["joint-cracked"]'])
def test_a_finding_without_a_known_kind_is_refused(line):
    text = f'[device]\nname = "wreck"\ntier = "top"\n[[finding]]\n{line}\n'
    assert [fault.line for fault in faults_of(text)] == [5]


def test_an_empty_tier_is_refused_and_an_empty_zone_is_not():
    assert [fault.field for fault in faults_of('[device]\nname = "wreck"\ntier = ""\n')] == ["device, tier"]
    unit = read('[device]\nname = "wreck"\ntier = "top"\n[[finding]]\nkind = "joint-cracked"\nzone = ""\n')
    assert unit.findings[0].zone == ""


@pytest.mark.parametrize("price", ["-0.01", "nan", "inf", "1e8", '"60"', "true"])
def test_a_price_is_a_plain_amount_of_money(price):
    text = f'[device]\nname = "wreck"\ntier = "top"\nworking_price = {price}\n'
    assert [(fault.line, fault.field) for fault in faults_of(text)] == [(4, "device, working_price")]


def test_a_table_under_the_wrong_name_is_named():
    (fault,) = faults_of('[device]\nname = "wreck"\ntier = "top"\n[[findings]]\nkind = "joint-cracked"\n')
    assert fault.wrong == "is not a known field; nearest known: finding"


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("", ["device"]),
        ("device = 3\nfinding = 4\nsymptom = 5\n", ["device", "finding", "symptom"]),
        ("[[device]]\nname = 'a'\n", ["device"]),
        ("finding = [1]\n[device]\nname = 'a'\ntier = 'top'\n", ["finding 1"]),
    ],
)
def test_a_file_of_the_wrong_shape_is_refused_in_words(text, fields):
    assert [fault.field for fault in faults_of(text)] == fields


@pytest.mark.parametrize(
    ("written", "chance"), [("8 in 20", 0.4), (" 0 in 20 ", 0.0), ("20 in 20", 1.0), (0.25, 0.25), (1, 1.0)]
)
def test_a_chance_is_a_number_or_a_count(written, chance):
    assert parse_chance(written) == pytest.approx(chance, abs=1e-15)


@pytest.mark.parametrize(
    "written", ["25 in 20", "1 in 0", "-1 in 20", "8/20", "0.4", "", "8.5 in 20", True, None, []]
)
def test_an_invalid_chance_is_refused(written):
    with pytest.raises(ValueError, match="a number from 0 to 1"):
        parse_chance(written)


@pytest.mark.parametrize("written", ["1.5", "-0.1", "nan"])
def test_a_number_outside_nought_to_one_is_refused(written):
    text = (
        f'[device]\nname = "wreck"\ntier = "top"\n[[finding]]\nkind = "joint-cracked"\nchance = {written}\n'
    )
    assert [(fault.line, fault.field) for fault in faults_of(text)] == [(6, "finding 1, chance")]


def test_a_finding_can_be_removed():
    unit = without_finding(read(GOOD), "joint-cracked")
    assert [finding.kind for finding in unit.findings] == ["display-glass-cracked"]
