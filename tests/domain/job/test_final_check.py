"""The final check: the lines a repair calls for, each of them needed before a sale as working."""

import pytest

from tests.domain.job_files import DAY, handed, job
from triage.domain.catalogue import load_catalogue
from triage.domain.catalogue_entries import VerificationLine
from triage.domain.job.ending import sale_refusals
from triage.domain.job.final_check import result_of, standing, to_do_again
from triage.domain.job.records import Attempt, CheckMade, Comeback, FoundDamage, LineChecked, Moved

CATALOGUE = load_catalogue()
# Asked of every unit that was opened, and of every unit before it is sold. Common practice, no source;
# the wipe: NIST SP 800-88 Rev. 2 (read); the stock book: HMRC VAT Notice 718 (read).
ALWAYS_OPENED = {"cell-look-again", "hardware-complete", "seal-look"}
ALWAYS_SOLD = {"wipe-proof", "identity-numbers", "cosmetic-grade", "stock-and-tax-record"}


def passed(line, sealed=True, **told):
    return LineChecked(line, "pass", sealed=sealed, **told)


def done(repair):
    return [FoundDamage(repair.closes[0]), Attempt(repair.closes[0], "fixed", repair.slug)]


def expected(repair):
    return set(repair.verify) | ALWAYS_SOLD | (ALWAYS_OPENED if repair.access != "closed" else set())


@pytest.mark.parametrize("slug", CATALOGUE.repairs)
def test_no_required_line_may_be_dropped_before_a_sale_as_working(slug):
    repair = CATALOGUE.repairs[slug]
    lines = sorted(expected(repair))
    whole = job("bought", "ready", *done(repair), *map(passed, lines))
    assert set(standing(whole, CATALOGUE).required) == set(lines)
    assert sale_refusals(whole, handed(), "", CATALOGUE) == ()
    for dropped in lines:
        kept = [passed(line) for line in lines if line != dropped]
        for result in ("", "fail", "cannot"):
            answer = [LineChecked(dropped, result, sealed=True)] if result else []
            unit = job("bought", "ready", *done(repair), *kept, *answer)
            name = CATALOGUE.verifications[dropped].name
            assert any(name in why for why in sale_refusals(unit, handed(), "", CATALOGUE)), (dropped, result)


def test_an_owner_s_unit_needs_no_wipe_and_no_stock_book():
    repair = CATALOGUE.repairs["resolder-port"]
    check = standing(job("walk-in", "in-work", *done(repair)), CATALOGUE)
    assert set(check.required) == set(repair.verify) | ALWAYS_OPENED
    assert check.missing == check.required and check.passed == ()


def test_a_unit_that_was_never_opened_needs_no_seal():
    assert set(standing(job("bought", "in-work"), CATALOGUE).required) == ALWAYS_SOLD
    opened = job("bought", "in-work", CheckMade("cell-look", False))
    assert set(standing(opened, CATALOGUE).required) == ALWAYS_SOLD | ALWAYS_OPENED


@pytest.mark.parametrize(
    ("sealed", "state"), [((False,), "missing"), ((True,), "passed"), ((False, True), "passed")]
)
def test_closing_breaks_things_so_charge_and_touch_are_checked_again_after_it(sealed, state):
    tries = [passed("attended-charge", was) for was in sealed]
    unit = job("walk-in", "in-work", *done(CATALOGUE.repairs["resolder-port"]), *tries)
    assert "attended-charge" in getattr(standing(unit, CATALOGUE), state)


def test_what_fails_before_sealing_has_failed():
    tries = [passed("attended-charge"), LineChecked("attended-charge", "fail")]
    unit = job("walk-in", "in-work", *done(CATALOGUE.repairs["resolder-port"]), *tries)
    assert standing(unit, CATALOGUE).failed == ("attended-charge",)
    assert to_do_again(unit, CATALOGUE) == {"resolder-port": ("attended-charge",)}


def test_a_result_older_than_the_last_try_of_its_repair_does_not_count():
    port, again = (
        done(CATALOGUE.repairs["resolder-port"]),
        Attempt("port-pins-damaged", "fixed", "resolder-port"),
    )
    lines = [passed("solder-look"), passed("cellular-signal")]
    check = standing(job("walk-in", "in-work", *port, *lines, again), CATALOGUE)
    assert "solder-look" in check.missing
    assert "solder-look" in standing(job("walk-in", "in-work", *port, again, *lines), CATALOGUE).passed
    # Work on something else leaves it as it was.
    other = Attempt("torch-dead", "fixed", "change-torch")
    assert "solder-look" in standing(job("walk-in", "in-work", *port, *lines, other), CATALOGUE).passed


def test_a_unit_opened_again_needs_its_closed_lines_again_but_not_its_joints():
    lines = [passed(line) for line in ("attended-charge", "solder-look", "seal-look")]
    unit = job(
        "walk-in",
        "verified",
        *done(CATALOGUE.repairs["resolder-port"]),
        *lines,
        Moved("reopen", "in-work", DAY),
    )
    check = standing(unit, CATALOGUE)
    assert {"attended-charge", "seal-look"} <= set(check.missing) and check.passed == ("solder-look",)


def test_after_a_comeback_everything_is_checked_again():
    port = done(CATALOGUE.repairs["resolder-port"])
    first = [passed(line) for line in CATALOGUE.repairs["resolder-port"].verify]
    back = [Comeback(DAY, "same-fault", "rework"), Moved("rework", "in-work", DAY)]
    assert standing(job("walk-in", "sold", *port, *first, *back), CATALOGUE).passed == ()
    second = passed("solder-look", round=1)
    assert standing(job("walk-in", "sold", *port, *first, *back, second), CATALOGUE).passed == (
        "solder-look",
    )


@pytest.mark.parametrize(
    ("found", "tries", "grade"),
    [
        ([], [], "working"),
        ([FoundDamage("camera-dead")], [], "downgraded"),
        ([FoundDamage("camera-dead")], [Attempt("camera-dead", "not-fixed", "change-camera")], "downgraded"),
        ([FoundDamage("main-rail-short")], [Attempt("main-rail-short", "not-attempted")], "unfixed"),
        ([FoundDamage("main-rail-short", chance=0.4)], [], "working"),  # only suspected
        ([FoundDamage("board-bent")], [], "working"),  # a risk, not a repair
    ],
)
def test_a_unit_is_called_what_it_is(found, tries, grade):
    lines = [passed(line) for line in ALWAYS_SOLD | ALWAYS_OPENED]
    assert standing(job("bought", "in-work", *found, *tries, *lines), CATALOGUE).grade == grade


# The only four lines that are typed, and their limits: charge 0.5 A (worked out), surface 45 °C (worked out
# from IEC 62368-1), sleep 10 mA (shop figure), cell 3.6 V up to its label, none above 4.5 V (memory).
@pytest.mark.parametrize(
    ("slug", "unit", "passing", "failing"),
    [
        ("attended-charge", "A", [0.5, 2.0], [0.49]),
        ("surface-temperature", "°C", [45.0, 21.0], [45.1]),
        ("cell-voltage", "V", [3.6, 4.45], [3.59, 4.51]),
        ("sleep-current", "mA", [10.0, 0.4], [10.1]),
    ],
)
def test_a_reading_decides_whether_a_measured_line_passes(slug, unit, passing, failing):
    line = CATALOGUE.verifications[slug]
    assert line.unit == unit
    assert [result_of(line, "pass", value).result for value in passing] == ["pass"] * len(passing)
    assert [result_of(line, "pass", value).result for value in failing] == ["fail"] * len(failing)
    # A good current with a plug that drops out is still a fail.
    assert result_of(line, "fail", passing[0]).result == "fail"


def test_only_four_lines_are_typed():
    typed = {line.slug for line in CATALOGUE.verification if line.unit}
    assert typed == {"attended-charge", "surface-temperature", "cell-voltage", "sleep-current"}


@pytest.mark.parametrize("limits", [{"unit": "A"}, {"most": 1.0}, {"unit": "V", "least": 4.0, "most": 3.0}])
def test_a_limit_without_a_unit_or_upside_down_is_refused(limits):
    with pytest.raises(ValueError, match="a unit together with least"):
        VerificationLine("x", "x", "x", "x", "memory", **limits)
