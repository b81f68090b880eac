"""Two of the five uses as a bench walks them: a wreck judged and begun, a walk-in quoted and agreed to.

What the page says is compared with the same device worked out in Python; the device is read from the
file that the page itself gives to keep.
"""

from __future__ import annotations

import io

import pikepdf

from tests.browser.by_hand import (
    JOB,
    QUOTE,
    VERDICTS,
    choose,
    demo_shop,
    described,
    downloaded,
    figures_of,
    figures_on,
    number,
    press,
    said,
    saved_unit,
    select,
    type_in,
    who_is_here,
)
from tests.reports.pdf_text import pdf_text
from triage.domain.counts import forecast_in_twenty, with_signs
from triage.domain.money import money_text
from triage.reports.wording.plan import step_words, stop_words
from triage.reports.wording.step import swing_words
from triage.workflows.answers.assess import assess
from triage.workflows.answers.break_even import what_flips
from triage.workflows.answers.quote import quote_unit


def blank(visit):
    """The device page with nothing said yet."""
    visit.open()
    press(visit, "Start new device")
    visit.page.get_by_text("Choose the price class").wait_for()


def damaged(visit, place, damage):
    """Put a damage on by its place."""
    choose(visit, place)
    choose(visit, damage)


def worked_out(visit):
    """Press the button and wait for the answer."""
    visit.page.get_by_role("button", name="Get the verdict").click()
    visit.page.get_by_role("heading", name=VERDICTS).wait_for(timeout=60_000)
    visit.idle()
    visit.settled()


def test_a_wreck_is_judged_from_blank_and_begun_as_a_job(visit, size):
    page, shop = visit.page, demo_shop()
    blank(visit)
    for words in ("Upper", "inspected, no damage", "dropped on its back"):
        choose(visit, words)
    for words in ("back glass cracked", "camera cover glass cracked", "housing scuffed or dented"):
        choose(visit, words)
    damaged(visit, "battery well", "battery worn")
    type_in(visit, "Name or tray label", "Blue tray, left")
    type_in(visit, "Asking price (EUR)", "80")
    select(visit, "Activation lock", "no lock")
    select(visit, "Serial number and IMEI", "match")
    visit.full_shot(f"form-{size}")
    worked_out(visit)
    visit.shot(f"journey-{size}")
    assert "Blue tray, left" in said(described(page)) and "asking price €80.00" in said(described(page))

    # The verdict, and why.
    unit = saved_unit(visit)
    told = assess(unit, shop, 80.0)
    figures = figures_of(told)
    assert figures_on(page, figures) == figures
    main = page.locator("[data-testid=stMain]")
    why = said(main)
    for words in (
        told.sentence,
        stop_words(told, shop.catalogue),
        *(step_words(step, shop.catalogue) for step in told.steps_now),
    ):
        assert " ".join(words.split()) in why
    for caution in told.first_cautions:
        assert caution.title in why
    page.reload()
    visit.idle()
    assert figures_on(page, figures) == figures
    page.get_by_text("What would change the verdict?").click()
    page.get_by_text("when one input changes").wait_for(timeout=60_000)
    visit.idle()
    turning = page.locator("[class*=st-key-device-turning] li")
    wanted = [swing_words(swing) for swing in what_flips(unit, shop, 80.0) if swing.flips_at is not None]
    assert [said(line) for line in turning.all()] == [" ".join(line.split()) for line in wanted]
    visit.full_shot(f"turning-{size}")

    # What if: nothing is kept until that is said.
    page.get_by_text("What if?").click()
    type_in(visit, "Try asking price (EUR)", "600")
    page.get_by_text("New verdict: Decline").wait_for(timeout=60_000)
    assert assess(unit, shop, 600.0).verdict == "leave it"
    assert figures_on(page, figures) == figures
    visit.full_shot(f"what-if-{size}")
    type_in(visit, "Try asking price (EUR)", "60")
    press(visit, "Apply these changes")
    page.get_by_text("asking price €60.00").first.wait_for(timeout=60_000)
    visit.idle()
    then = assess(unit, shop, 60.0)
    assert figures_on(page, figures) == figures_of(then)

    # Taken: the job keeps the answer that stood behind it.
    who_is_here(visit, "Ada")
    page.get_by_role("button", name="Buy it", exact=True).click()
    visit.idle(JOB)
    page.get_by_text("Blue tray, left").first.wait_for()
    visit.full_shot(f"job-begun-{size}")
    choose(visit, "Quotes and payments", JOB)
    kept = [money_text(amount, shop.settings.currency) for amount in (60.0, then.limit, then.expected_margin)]
    assert f"buy, price {kept[0]}, highest price {kept[1]}, expected margin {kept[2]}" in said(main)
    choose(visit, "Next step", JOB)
    press(visit, "Start work", JOB)
    page.get_by_text("In progress", exact=True).wait_for()
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth")
    assert visit.complaints == [] and visit.outside == []


def test_a_walk_in_is_quoted_and_its_owner_says_yes(visit, size):
    page, shop = visit.page, demo_shop()
    blank(visit)
    for words in ("Top", "Repair for its owner", "inspected, no damage"):
        choose(visit, words)
    damaged(visit, "bottom edge", "charge port full of lint")
    damaged(visit, "battery well", "battery worn")
    type_in(visit, "Name or tray label", f"Ida's handset, {size}")
    select(visit, "Activation lock", "locked; its owner is here and can remove it")
    select(visit, "Serial number and IMEI", "match")
    choose(visit, "Proof of ownership and signature recorded")
    worked_out(visit)
    unit = saved_unit(visit)
    figures = figures_of(assess(unit, shop, walk_in=True))
    assert figures_on(page, figures) == figures

    # The price, the ceiling and the document.
    who_is_here(visit, "Ada")
    page.get_by_role("button", name="Open a job and quote").click()
    visit.idle(QUOTE)
    visit.shot(f"quote-{size}")
    quote = quote_unit(unit, shop, "fixed")
    price, most = (money_text(amount, quote.currency) for amount in (quote.offer.price, quote.offer.ceiling))
    shown = {label: number(page, label) for label in ("Quote", "Expected margin", "Risk of loss")}
    assert shown == {
        "Quote": price,
        "Expected margin": money_text(quote.bench.expected_margin, quote.currency, whole=True),
        "Risk of loss": with_signs(forecast_in_twenty(quote.bench.losses_in_20 / 20)),
    }
    type_in(visit, "Owner's name", "Ida Westerfeld", QUOTE)
    type_in(visit, "Quote number", "2026-0117", QUOTE)
    content, name = downloaded(page, "Download PDF")
    assert name == "quote-2026-0117.pdf"
    with pikepdf.open(io.BytesIO(content)) as document:
        assert "/StructTreeRoot" in document.Root
    text = pdf_text(content).replace(" ", "")
    assert price in text and "IdaWesterfeld" in text and "2026-0117" in text
    copy, name = downloaded(page, "Download web page")
    assert name == "quote-2026-0117.html" and price in copy.decode() and most in copy.decode()
    visit.full_shot(f"quote-{size}-whole")

    # Given, answered, begun.
    press(visit, "Record quote as given", QUOTE)
    page.get_by_text("Quote recorded").wait_for()
    main = page.locator("[data-testid=stMain]")
    main.get_by_role("link").filter(has_text="Job J-").click()
    visit.idle(JOB)
    choose(visit, "Quotes and payments", JOB)
    assert f"{price}, limit {most}" in said(main) and "The owner has not accepted a quote" in said(main)
    visit.full_shot(f"job-quoted-{size}")
    choose(visit, "Yes", JOB)
    type_in(visit, "Who answered", "Ida Westerfeld", JOB)
    type_in(visit, "How they answered", "signed", JOB)
    press(visit, "Save answer", JOB)
    page.get_by_text(f"The owner accepted quote 1, up to {most}").wait_for()
    choose(visit, "Next step", JOB)
    press(visit, "Accept it", JOB)
    press(visit, "Start work", JOB)
    page.get_by_text("In progress", exact=True).wait_for()
    visit.full_shot(f"job-agreed-{size}")
    page.get_by_role("link", name="All jobs").click()
    visit.idle("Jobs")
    page.get_by_text(f"Ida's handset, {size}").first.wait_for()
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth")
    assert visit.complaints == [] and visit.outside == []
