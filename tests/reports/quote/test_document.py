"""The owner's document: what it says, what it must not say, and words shown as they were typed."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from html import unescape

import pikepdf
import pytest

from tests.reports.one_quote import BENCH, INTERNAL, one_quote, one_staged
from tests.reports.pdf_text import pdf_text
from triage.domain.catalogue import load_catalogue
from triage.errors import DocumentError
from triage.policy.answer.quote import Stage
from triage.reports.quote.compose import quote_letter
from triage.reports.quote.document import quote_html, quote_pdf
from triage.reports.quote.figures import figure_lines, quote_object

HOSTILE = '#image("/etc/passwd") *bold* $x$ _a_ \\n @ref <b> `code` // #{1+1} </td><script>alert(1)</script>'


def html_text(page: str) -> str:
    body = page.split("<body>")[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


def said(quote, sample=False):
    """The words of the HTML copy, and of the PDF without its spaces."""
    letter = quote_letter(quote, sample)
    return html_text(quote_html(letter)), squeezed(pdf_text(quote_pdf(letter)))


def squeezed(text: str) -> str:
    # The typesetter joins letters such as f and i, and breaks lines where it likes.
    for joined, letters in {"\ufb01": "fi", "\ufb02": "fl", "\ufb00": "ff", "\ufb03": "ffi"}.items():
        text = text.replace(joined, letters)
    return re.sub(r"\s", "", text)


def says(quote, words, sample=False):
    page, pdf = said(quote, sample)
    return words in page and squeezed(words) in pdf


def test_the_pdf_is_tagged_titled_and_in_a_language():
    with pikepdf.open(io.BytesIO(quote_pdf(quote_letter(one_quote())))) as pdf:
        assert "/StructTreeRoot" in pdf.Root and pdf.Root.MarkInfo.Marked
        assert pdf.Root.Lang == "en" and pdf.Root.ViewerPreferences.DisplayDocTitle
        metadata = pdf.open_metadata()
        assert metadata["dc:title"] == "Quote for a repair 2026-0117"
        assert metadata["pdfuaid:part"] == "1"
        tags = {str(tag.get("/S")) for tag in _tags(pdf.Root.StructTreeRoot)}
        assert {"/H1", "/H2", "/Table", "/TH", "/TD", "/L", "/LI"} <= tags
        assert len(pdf.pages) == 2


def _tags(node):
    for child in _children(node):
        if isinstance(child, pikepdf.Dictionary) and "/S" in child:
            yield child
            yield from _tags(child)


def _children(node):
    kids = node.get("/K", [])
    return kids if isinstance(kids, pikepdf.Array) else [kids]


def test_it_asks_no_network_and_no_script():
    page = quote_html(quote_letter(one_quote()))
    assert not re.search(r"https?:|url\(|<script|<link|<img|@import|\son\w+=", page)
    with pikepdf.open(io.BytesIO(quote_pdf(quote_letter(one_quote())))) as pdf:
        assert not {"/OpenAction", "/AA", "/Names", "/AcroForm"} & set(pdf.Root.keys())


@pytest.mark.parametrize("quote", [one_quote(), one_staged()])
def test_the_same_quote_gives_the_same_bytes(quote):
    letter = quote_letter(quote)
    assert quote_pdf(letter) == quote_pdf(letter)
    assert quote_html(letter) == quote_html(letter)
    other = quote_letter(one_quote(number="another"))
    assert quote_pdf(other) != quote_pdf(quote_letter(one_quote()))


@pytest.mark.parametrize("field", ["customer", "device", "model", "number", "shop"])
def test_a_user_s_words_come_out_as_they_were_typed(field):
    quote = one_quote(**{field: HOSTILE})
    assert says(quote, HOSTILE)
    page = quote_html(quote_letter(quote))
    assert "<script>" not in page and "<b>" not in page
    assert page.count("</td>") == quote_html(quote_letter(one_quote())).count("</td>")


def test_words_from_books_come_out_as_they_were_written():
    parts = (one_quote().offer.parts[0].__class__(HOSTILE, HOSTILE, True),)
    page, pdf = said(one_quote({"parts": parts, "possible": (HOSTILE,), "lost": (HOSTILE,)}))
    assert page.count(HOSTILE) == 4 and pdf.count(squeezed(HOSTILE)) == 4


def test_control_characters_and_line_breaks_do_not_break_the_page():
    assert says(one_quote(customer="Ida\n\tWest\x00er\x1b[31m"), "Ida West\ufffder\ufffd[31m")


def test_letters_of_other_alphabets_are_set_or_refused_by_name():
    assert says(one_quote(customer="Łukasz Ćwikła, Δημήτρης, Юлия"), "Łukasz Ćwikła, Δημήτρης, Юлия")
    letter = quote_letter(one_quote(customer="\U00013080"))
    assert "\U00013080" in quote_html(letter)
    try:
        assert quote_pdf(letter)
    except DocumentError as refusal:
        assert "\U00013080" in str(refusal)


@pytest.mark.parametrize("quote", [one_quote(), one_staged()])
def test_nothing_of_the_bench_s_own_figures_is_in_it(quote):
    page, pdf = said(quote)
    for words in INTERNAL:
        assert words.lower() not in page.lower(), words
        assert squeezed(words).lower() not in pdf.lower(), words
    assert not re.search(r"\d+ in 20|%", page)
    # They are distinctive: each is in what the bench is told.
    told = " ".join([*figure_lines(quote), repr(quote_object(quote))])
    for figure in ("643.21", "632.14", "6,789", "17 in 20", "71.83", "386", "698.77", "54.76", "864.20"):
        assert figure in told, figure


def test_it_says_what_an_owner_must_know():
    page, _ = said(one_quote())
    for words in (
        "The bench at Saltmarsh Lane, Ostrel", "2026-0117", "25 November 2026", "9 December 2026",
        "Ida Westerfeld", "Dropped handset, grey tray", "€157.50", "No fix, no fee",
        "The screen shows no proper picture. Fit another screen.",
        "Suspected: the antenna cable is torn", "Not part of this quote",
        "you pay less: €133.88 instead of €157.50, or €110.25 if it is more than one",
        "These are possible here: Solder joints under a chip have cracked",
        "above €157.50 before you have agreed", "within 21 days, we take that as a no",
        "return it with all its parts", "Screen refurbished panel yes", "Antenna cable we tell you before",
        "Paired means", "Camera Vibration", "front camera and face or depth sensor",
        "save your data before", "no resistance to water or dust", "95 days on the work",
        "in addition to your rights by law, never instead of them", "I own this device or act",
        "bypasses no lock", "Parts usually take 2 to 3 days", "Signature",
    ):  # fmt: skip
        assert words in page, words


def test_the_pdf_says_what_the_page_says():
    for quote in (one_quote(), one_staged()):
        letter = quote_letter(quote)
        pdf = squeezed(pdf_text(quote_pdf(letter)))
        for section in letter.sections:
            grid = section.grid.rows if section.grid else ()
            cells = [cell for row in grid for cell in row]
            for line in (section.title, *section.opening, *section.bullets, *section.closing, *cells):
                assert squeezed(line) in pdf, line


def test_a_diagnostic_fee_is_explained():
    quote = one_quote({"fee": 20.0}, kind="diagnostic-fee")
    assert says(quote, "If the device is repaired, the price includes the diagnostic fee of €20.00.")
    assert says(quote, "You then pay the diagnostic fee of €20.00")
    assert "no fee" not in said(quote)[0].lower()


def test_stages_show_range_maximum_and_what_is_not_known():
    page, _ = said(one_staged())
    assert "Today, at the counter All faults inside. The device is still closed. €157.50 €157.50" in page
    assert "After opening Faults on the circuit board. €140.25 to €171.75 €198.40" in page
    assert "no price possible" in page and "A repair may turn out not to make sense" in page
    assert "valid for 15 days" in page and "I agree to the work above up to €198.40" in page


def test_stages_of_one_price_say_it_once():
    names = ("counter", "opened", "board level")
    stages = tuple(Stage(name, 157.5, 157.5, 157.5, False) for name in names)
    quote = one_quote({"stages": stages, "ceiling": 157.5}, kind="staged")
    page, _ = said(quote)
    assert page.count("One total, confirmed at each stage: €157.50.") == 1
    assert "Highest price" not in page and "After opening Faults on the circuit board." in page
    assert figure_lines(quote)[1] == "One total, confirmed at each stage: €157.50"
    dearer = replace(stages[2], maximum=160.0)
    told = " ".join(figure_lines(one_quote({"stages": (*stages[:2], dearer)}, kind="staged")))
    assert "One total" not in told and "limit €160.00" in told


@pytest.mark.parametrize("battery", ["suspect", "hazard"])
def test_a_bad_battery_is_warned_of_before_the_work(battery):
    page, pdf = said(one_quote({"battery": battery}))
    assert page.index("Do not charge it, press it or open it") < page.index("Faults and work")
    assert squeezed("We never put a dangerous battery back") in pdf
    assert ("is damaged and can catch fire" in page) == (battery == "hazard")
    assert "Please take care" not in said(one_quote())[0]


def test_liquid_data_and_worth_are_told():
    page, _ = said(one_quote({"wet": True, "data_wanted": True, "over_worth": True}))
    for words in (
        "The device has been wet.",
        "You want to keep your data.",
        "higher than the usual value",
    ):
        assert words in page


def test_a_demo_quote_says_that_it_is_no_offer():
    assert says(one_quote(), "Sample from an invented demo shop. This is not an offer.", sample=True)
    assert "Sample" not in said(one_quote())[0]


def test_the_bench_is_told_the_price_below_cost_and_what_earns_most():
    told = "\n".join(figure_lines(one_quote()))
    assert "BELOW COST: a price of €632.14 or more" in told
    assert "Highest expected margin at €698.77: 9 in 20 owners accept" in told
    assert "risk of loss 17 in 20" in told and BENCH.notes[0] in told


def test_every_repair_and_part_of_the_catalogue_has_words_for_an_owner():
    catalogue = load_catalogue()
    jargon = re.compile(r"\b(flex|re-?ball|via|rail|shields?|trace|cell|panel|reseat|dry-fit|unit)\b", re.I)
    for repair in catalogue.repair:
        assert repair.plain.endswith(".") and not jargon.search(repair.plain), repair.slug
    for kind in catalogue.kind:
        assert kind.plain.endswith(".") and not jargon.search(kind.plain), kind.slug
    for part in catalogue.part:
        assert not jargon.search(part.plain or part.name), part.slug
