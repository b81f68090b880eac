import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.app_pages.device.unit_text import unit_text
from triage.app_pages.shared.draft import DEMO
from triage.app_pages.shared.literal import literal
from triage.domain.catalogue import load_catalogue
from triage.domain.documents import parse_toml
from triage.domain.shop.price_book import load_price_book
from triage.domain.units.unit import CheckResult, Finding, Ownership, Unit
from triage.domain.units.unit_file import unit_from
from triage.errors import UnitFileError
from triage.shipped import shipped

CATALOGUE = load_catalogue()
PRICES = load_price_book(shipped("models/shop/demo-prices.toml"))
# A carriage return or a lone surrogate never reaches a text field.
WORDS = st.text(st.characters(exclude_categories=("Cs",)), max_size=40)
MONEY = st.none() | st.floats(0, 1e7, allow_nan=False)
FINDINGS = st.builds(
    Finding,
    kind=st.sampled_from(sorted(CATALOGUE.kinds)),
    severity=st.integers(1, 3),
    zone=st.sampled_from(["", *CATALOGUE.zones]),
    chance=st.floats(0, 1),
    note=WORDS,
)
UNITS = st.builds(
    Unit,
    name=WORDS,
    tier=st.sampled_from(sorted(PRICES.tiers())),
    findings=st.lists(FINDINGS, max_size=4).map(tuple),
    symptoms=st.lists(st.sampled_from(sorted(CATALOGUE.symptoms)), max_size=2).map(tuple),
    model=WORDS,
    cause=st.sampled_from(["", "dropped", "wet"]),
    technician=WORDS,
    working_price=MONEY,
    parts_value=MONEY,
    battery=st.sampled_from(["sound", "not-seen", "suspect", "hazard"]),
    data_wanted=st.booleans(),
    extra_work=st.sampled_from(["ask", "refused"]),
    readings=st.lists(
        st.builds(CheckResult, check=st.sampled_from(sorted(CATALOGUE.checks)), found=st.booleans()),
        max_size=2,
    ).map(tuple),
    ownership=st.builds(
        Ownership,
        lock=st.sampled_from(["clear", "locked-to-another"]),
        identity=st.sampled_from(["agrees", "mismatch"]),
        listed=st.booleans(),
        carrier_locked=st.booleans(),
        proof_recorded=st.booleans(),
    ),
)


def read(text):
    return unit_from(parse_toml(text, "written", UnitFileError), CATALOGUE, PRICES)


@given(UNITS)
def test_a_written_device_reads_back_the_same(unit):
    assert read(unit_text(unit)) == unit


def test_what_stands_at_its_default_is_not_written_but_for_what_was_looked_at():
    text = unit_text(Unit("grey tray", "middle", (Finding("frame-bent"),)))
    assert tomllib.loads(text) == {
        "device": {"name": "grey tray", "tier": "middle"},
        "ownership": {"lock": "clear", "identity": "agrees"},
        "finding": [{"kind": "frame-bent", "severity": 2}],
    }


def test_the_demo_device_is_in_order():
    unit = read(DEMO.toml)
    assert unit.findings and DEMO.ask is not None


@pytest.mark.parametrize(
    ("typed", "escaped"),
    [
        ("<script>", r"\<script\>"),
        ("$x$", r"\$x\$"),
        ("*bold*", r"\*bold\*"),
        ("[a](b)", r"\[a\]\(b\)"),
        ("a\n\n# b", r"a \# b"),
        ("plain words 17", "plain words 17"),
    ],
)
def test_mark_up_is_escaped(typed, escaped):
    assert literal(typed) == escaped


def test_short_codes_are_broken():
    assert ":smile:" not in literal(":smile:").replace("\\", "")


# What makes links of plain text once mark-up is read (mdast-util-gfm-autolink-literal 2, its two searches),
# and arrows and dashes of signs that stand alone (Streamlit 1.67); from memory, and as seen in a browser.
LINKS = re.compile(r"(https?://|www(?=\.))[-.\w]+|[-.\w+]+@[-\w]+(\.[-\w]+)+", re.IGNORECASE | re.ASCII)
ARROWS = re.compile(r"(^|\s)(<-|->|--|>=|<=|~=)(\s|$)")


@pytest.mark.parametrize(
    "typed",
    [
        "see https://w.example/a",
        "HTTP://w.example",
        "Www.w.example",
        "a.b@w.example",
        "a -> b",
        "a -- b",
        "<=",
    ],
)
def test_no_address_becomes_a_link_and_no_sign_an_arrow(typed):
    assert LINKS.search(typed) or ARROWS.search(typed)
    shown = re.sub(r"\\(.)", r"\1", literal(typed))
    assert not LINKS.search(shown) and not ARROWS.search(shown)
    assert shown.replace("\u2060", "") == typed


def test_a_command_in_a_message_can_be_copied():
    assert "\u2060" not in literal("triage fit --record record.sqlite --out /srv/fits")


def test_no_sign_turns_the_rest_of_the_line_about():
    assert literal("a\u202eb\u2067c") == "abc" and literal("שלום") == "שלום"
