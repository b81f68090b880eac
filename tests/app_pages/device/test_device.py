"""The device page driven without a browser: answers, errors, and words shown as typed."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from triage.app_pages.shared.draft import DEMO, Draft
from triage.app_pages.shared.literal import literal
from triage.domain.money import money_text
from triage.reports.wording.parts import PART_WORDS, TAKE_WORDS
from triage.shipped import shipped
from triage.workflows.shop.shop import open_shop

VERDICTS = {
    "Check first": "check first",
    "Buy for parts": "take for parts",
    "Decline": "leave it",
    "Buy": "take it",
    "Quote": "take it",
}


def opened(page, id=""):
    if id:
        page.query_params["device"] = id
    page.run()
    assert not page.exception
    return page


def widget(page, kind, name):
    """A widget of the present turn: its key ends with its name."""
    (found,) = [w for w in page.get(kind) if w.key and w.key.endswith(f"-{name}")]
    return found


def verdict(page):
    (heading,) = page.header
    return next(word for words, word in VERDICTS.items() if words in heading.value)


def numbers(page):
    return {metric.label: metric.value for metric in page.metric}


def text(page):
    """Everything said on the page."""
    kinds = ("header", "subheader", "markdown", "caption", "warning", "error", "info")
    return "\n".join(element.value for kind in kinds for element in page.get(kind))


def get_verdict(page):
    widget(page, "button", "go").click().run()
    assert not page.exception
    return page


def test_a_newcomer_sees_the_demo_device_answered(page):
    opened(page)
    assert verdict(page) in VERDICTS.values()
    assert set(numbers(page)) == {"Highest price", "Expected margin", "Risk of loss"}
    assert "Stop point" in text(page) and "Damaged battery" in text(page)
    assert "Invented demo shop" in text(page)
    assert "Work plan" in text(page) and "Margin breakdown" in text(page)


@pytest.mark.slow
def test_the_page_says_what_the_command_line_says(page, tmp_path):
    opened(page)
    unit = tmp_path / "unit.toml"
    unit.write_text(DEMO.toml)
    command = [sys.executable, "-c", "from triage.cli.main import run; run()"]
    done = subprocess.run(
        [*command, "assess", str(unit), "--ask", str(DEMO.ask), "--json"], capture_output=True, timeout=120
    )
    told = json.loads(done.stdout)
    assert verdict(page) == told["verdict"]
    assert numbers(page) == {
        "Highest price": money_text(told["limit"], "EUR"),
        "Expected margin": money_text(told["expected_margin"], "EUR", whole=True),
        "Risk of loss": f"{told['losses_in_20']} in 20",
    }
    assert literal(told["sentence"]) in text(page)
    assert literal(told["stop_words"]) in text(page)
    for step in told["steps"]:
        assert literal(step["text"]) in text(page)


def test_the_parts_of_a_device_are_shown_with_what_to_do_about_each(page):
    opened(page)
    (table,) = [frame.value for frame in page.dataframe if "what to do" in frame.value.columns]
    assert set(table["part"]) == set(PART_WORDS.values())
    assert set(table["what to do"]) <= set(TAKE_WORDS.values())
    assert "Stripped as it lies" in "".join(caption.value for caption in page.caption)


def test_a_dearer_device_is_left(page):
    opened(page)
    assert verdict(page) == "take it"
    widget(page, "number_input", "ask").set_value(600.0)
    get_verdict(page)
    assert verdict(page) in ("leave it", "check first")
    assert "asking price €600.00" in page.expander[0].label


def test_each_caution_stands_at_its_step(page):
    opened(page)
    warnings = [warning.value for warning in page.warning]
    folded = "\n".join(expander.label for expander in page.expander)
    assert any("never charge, press flat" in words for words in warnings)
    assert "Take care" in folded


@pytest.mark.parametrize("typed", ["<script>alert(1)</script>", "$x$ and $y$", "*bold*", ":red[a] :smile:"])
def test_a_hostile_name_is_shown_as_it_was_typed(page, typed):
    opened(page)
    widget(page, "text_input", "name").set_value(typed)
    get_verdict(page)
    assert page.expander[0].label.startswith(literal(typed))
    assert typed not in text(page)
    assert widget(page, "text_input", "name").value == typed


def test_an_empty_form_asks_for_what_is_missing(page):
    opened(page)
    page.button("device-new").click().run()
    assert not page.header and "Choose the price class" in text(page)
    get_verdict(page)
    assert any("device, tier" in error.value for error in page.error)
    widget(page, "button_group", "tier").set_value("middle").run()
    get_verdict(page)
    assert any("No damage or symptom is entered" in error.value for error in page.error)
    widget(page, "selectbox", "search").set_value("antenna-flex-torn").run()
    get_verdict(page)
    assert verdict(page)


def test_an_event_proposes_damage_and_only_a_tap_makes_it_so(page, kept):
    opened(page)
    page.button("device-new").click().run()
    widget(page, "button_group", "bundle").set_value("got-wet").run()
    bundle = next(b for b in open_shop().catalogue.bundle if b.slug == "got-wet")
    assert widget(page, "selectbox", "cause").value == bundle.cause
    usual = widget(page, "button_group", "usual-got-wet")
    assert usual.value == [] and len(usual.options) == len(bundle.kinds)
    assert "[[finding]]" not in kept().toml
    usual.set_value(["microphone-dead"]).run()
    assert kept().toml.count("[[finding]]") == 1
    widget(page, "button_group", "usual-got-wet").set_value([]).run()
    widget(page, "button_group", "bundle").set_value(None).run()
    assert "[[finding]]" not in kept().toml and not page.exception


def test_an_event_that_may_hurt_the_battery_makes_it_suspect_until_somebody_looked(page, kept):
    opened(page)
    page.button("device-new").click().run()
    widget(page, "button_group", "bundle").set_value("run-over").run()
    assert 'battery = "suspect"' in kept().toml
    widget(page, "button_group", "bundle").set_value(None).run()
    assert 'battery = "suspect"' in kept().toml
    widget(page, "button_group", "Battery").set_value("sound").run()
    widget(page, "button_group", "bundle").set_value("run-over").run()
    assert 'battery = "sound"' in kept().toml and not page.exception


def test_damage_is_added_one_at_a_time_and_taken_off_again(page, kept):
    opened(page)
    page.button("device-new").click().run()
    for kind in ("torch-dead", "cell-swollen"):
        widget(page, "selectbox", "search").set_value(kind).run()
        assert widget(page, "selectbox", "search").value is None
    assert kept().toml.count("[[finding]]") == 2
    widget(page, "button", "torch-dead-remove").click().run()
    assert "torch-dead" not in kept().toml and "cell-swollen" in kept().toml


@pytest.mark.parametrize(
    ("typed", "kind"), [("bulging", "cell-swollen"), ("water", "liquid-on-board"), ("lint", "port-dirty")]
)
def test_the_words_of_other_benches_find_a_damage(page, typed, kind):
    opened(page)
    name = open_shop().catalogue.kinds[kind].name
    assert any(typed in o and o.startswith(name) for o in widget(page, "selectbox", "search").options)


def test_every_change_is_kept_at_once_and_nothing_before_the_first(page, kept):
    opened(page)
    page.button("device-new").click().run()
    assert "device" not in page.query_params
    widget(page, "button_group", "bundle").set_value("bent").run()
    widget(page, "button_group", "usual-bent").set_value(["frame-bent", "board-bent", "display-panel-dead"])
    page.run()
    id = page.query_params["device"]
    assert kept().toml.count("[[finding]]") == 3 and 'tier = ""' in kept().toml
    widget(page, "button_group", "place").set_value("camera-bump").run()
    widget(page, "button_group", "place-camera-bump").set_value(["torch-dead"]).run()
    widget(page, "button_group", "torch-dead-severity").set_value(3).run()
    assert 'kind = "torch-dead"\nseverity = 3\nzone = "camera-bump"' in kept().toml
    widget(page, "button_group", "place-camera-bump").set_value([]).run()
    widget(page, "number_input", "ask").set_value(35.0).run()
    assert "torch-dead" not in kept().toml and kept().ask == 35.0
    assert page.query_params["device"] == id and not page.exception


def test_a_half_described_device_comes_back_as_it_was_left(page, keep):
    opened(page, keep(Draft('[device]\nname = "Half"\ntier = ""\n[[finding]]\nkind = "torch-dead"\n', 12.0)))
    assert not page.header and not page.error and "Choose the price class" in text(page)
    assert widget(page, "text_input", "name").value == "Half"
    assert widget(page, "button_group", "torch-dead-severity").value == 2
    widget(page, "button_group", "tier").set_value("middle").run()
    get_verdict(page)
    assert page.expander[0].label.startswith(
        "Half, price class middle, 1 kind of damage, asking price €12.00"
    )


def test_without_a_record_the_page_works_and_says_that_nothing_is_kept(page, monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_RECORD", str(tmp_path / "a-file" / "record.sqlite"))
    (tmp_path / "a-file").write_text("not a folder")
    opened(page)
    assert "Nothing is saved" in text(page)
    widget(page, "number_input", "ask").set_value(600.0)
    get_verdict(page)
    assert "asking price €600.00" in page.expander[0].label and "device" not in page.query_params


def test_severity_place_and_certainty_reach_the_answer(page, kept):
    opened(page)
    widget(page, "button_group", "frame-bent-severity").set_value(3)
    widget(page, "selectbox", "frame-bent-zone").set_value("corner")
    widget(page, "selectbox", "antenna-flex-torn-chance").set_value(20.0)
    get_verdict(page)
    assert 'kind = "frame-bent"\nseverity = 3\nzone = "corner"' in kept().toml
    assert "chance" not in kept().toml


def test_an_owner_s_device_gets_a_lowest_quote(page):
    opened(page)
    widget(page, "button_group", "route").set_value("Repair for its owner").run()
    assert widget(page, "number_input", "ask").disabled
    get_verdict(page)
    assert "Lowest quote" in numbers(page)


def test_a_mismatch_is_left_at_any_price(page):
    opened(page)
    widget(page, "selectbox", "identity").set_value("mismatch")
    get_verdict(page)
    assert verdict(page) == "leave it"
    assert numbers(page) == {"Highest price": "nothing"}
    assert "Work plan" not in text(page)


def test_a_swollen_battery_is_made_safe_first(page):
    opened(page)
    widget(page, "button_group", "Battery").set_value("hazard")
    get_verdict(page)
    steps = [m.value for m in page.markdown if m.value.startswith("**1\\.") or m.value.startswith("**1.")]
    assert "Make the battery safe" in steps[0]


BAD = """\
[device]
name = "x"
tier = "uper"
[[finding]]
kind = "frame-bend"
severity = 4
"""


def test_a_bad_description_lists_every_fault_and_keeps_the_answer(page):
    opened(page)
    before = numbers(page)
    widget(page, "text_area", "paste").set_value(BAD)
    widget(page, "button", "read").click().run()
    (error,) = [e.value for e in page.error]
    assert len(error.splitlines()) == 3
    for words in ("line 3", "line 5", "line 6", "nearest known: upper", "nearest known: frame"):
        assert literal(words) in error
    assert numbers(page) == before


def test_malformed_toml_is_refused_in_words(page):
    opened(page)
    widget(page, "text_area", "paste").set_value("[device\n")
    widget(page, "button", "read").click().run()
    assert any("well\\-formed TOML" in error.value for error in page.error)


def test_a_pasted_description_is_answered(page):
    opened(page)
    widget(page, "text_area", "paste").set_value(
        '[device]\nname = "Pasted one"\ntier = "top"\n[[finding]]\nkind = "back-glass-cracked"\n'
    )
    widget(page, "button", "read").click().run()
    assert not page.exception and page.expander[0].label.startswith("Pasted one, price class top")


def test_the_address_brings_a_device_back(page, keep):
    draft = Draft('[device]\nname = "Kept"\ntier = "middle"\n[[finding]]\nkind = "port-dirty"\n', 12.0)
    opened(page, keep(draft))
    assert (
        page.expander[0].label.startswith("Kept, price class middle")
        and "asking price €12.00" in page.expander[0].label
    )


@pytest.mark.parametrize("id", ["not-a-device", "../../etc/passwd", "' OR 1=1 --"])
def test_an_address_that_names_no_draft_shows_the_demo_and_says_so(page, id):
    opened(page, id)
    assert "grey tray" in page.expander[0].label and "This record has no device at this address" in text(page)
    assert "device" not in page.query_params


def test_a_kept_draft_with_faults_in_it_lists_them(page, keep):
    opened(page, keep(Draft(BAD)))
    assert not page.header and any("frame" in error.value for error in page.error)


def test_a_shop_that_cannot_be_opened_is_said_to_be(page, monkeypatch, tmp_path):
    monkeypatch.setenv("TRIAGE_SHOP_POSTERIOR", str(tmp_path))
    opened(page)
    assert any("cannot be used" in error.value for error in page.error)


def test_checks_already_made_reach_the_answer(page, kept):
    opened(page)
    widget(page, "multiselect", "checks-False").set_value(["microscope-look"])
    get_verdict(page)
    assert '[[check]]\ncheck = "microscope-look"\nfound = false' in kept().toml


def test_what_would_change_the_verdict_is_not_calculated_until_opened(page, monkeypatch):
    asked = []
    monkeypatch.setattr("triage.app_pages.shared.shop_counter.what_flips", lambda *_: asked.append(1))
    opened(page)
    assert not asked and any("change the verdict" in part.label for part in page.expander)


def test_bench_words_only(page):
    opened(page)
    said = text(page).lower()
    for word in ("posterior", "prior", "pooling", "hazard rate", "shortfall", "quantile", "percentile"):
        assert word not in said


@pytest.mark.slow
def test_the_page_does_not_load_the_samplers():
    code = (
        "import sys\nfrom streamlit.testing.v1 import AppTest\n"
        f"page = AppTest.from_file({str(shipped('app.py'))!r}, default_timeout=60).run()\n"
        "assert page.header and not page.exception\n"
        "heavy = {'pymc', 'pytensor', 'arviz', 'nutpie', 'numba'} & set(sys.modules)\n"
        "sys.exit(f'loaded: {sorted(heavy)}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr[-2000:]
