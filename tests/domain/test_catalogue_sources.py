"""Published facts in the catalogue, each compared with its source."""

import pytest

from triage.domain.catalogue import load_catalogue

CATALOGUE = load_catalogue()

# (caution, what it must say, the source it must name, the mark it must carry)
CAUTIONS = [
    # Melting points of solder alloys: published alloy data (read).
    ("solder-melting-points", ["42Sn58Bi", "138 °C", "63Sn37Pb", "183 °C"], "alloy data", "read"),
    ("solder-melting-points", ["SAC305", "217 to 220 °C"], "alloy data", "read"),
    # NIOSH Pocket Guide to Chemical Hazards, 0359, isopropyl alcohol (read).
    ("alcohol", ["12 °C", "2.0 to 12.7 %"], "NIOSH Pocket Guide", "read"),
    # USB Battery Charging 1.2: up to 1.5 A; the reversible plug 1.5 or 3 A at 5 V (read).
    ("charging-current", ["up to 1.5 A", "1.5 or 3 A at 5 V"], "USB Battery Charging 1.2", "read"),
    # Larsson and others 2017, Scientific Reports 7:10018: 20 to 200 mg HF per watt hour (read).
    ("cell-fume", ["20 to 200 mg of hydrogen fluoride per watt hour"], "Scientific Reports 7:10018", "read"),
    # ADR special provision 376 with P908, LP904, P911, LP906; IATA/ICAO special provision A154 (read).
    ("cell-transport", ["never go by air", "P908", "LP904", "P911", "LP906"], "provision 376", "read"),
    # ADR special provision 377, P909 (read).
    ("cell-waste", ["P909"], "provision 377", "read"),
    # ANSI/ESD S20.20-2021: isolated conductors under 35 V, wrist strap under 35 Mohm (read).
    ("static", ["under 35 V", "35 Mohm"], "ANSI/ESD S20.20-2021", "read"),
    # HSE SIM 03/2002/26: 0.05 mg/m3 over 8 h, 0.15 over 15 min (read).
    ("flux-fume", ["0.05 mg/m³", "0.15 mg/m³"], "HSE SIM 03/2002/26", "read"),
    # IPC-6012B clause 3.4.3: bow and twist 0.75 % of the length, new boards (read).
    ("board-bend-flag", ["0.75 %", "new bare boards", "not a verdict"], "IPC-6012B", "read"),
    # J-STD-020: body peak by package size (read).
    ("package-peak-heat", ["245, 250 or 260 °C"], "J-STD-020", "read"),
    # IPC-7711/7721, definitions: repair restores function, compliance may be precluded (read).
    ("board-repair-compliance", ["may not restore full compliance"], "IPC-7711/7721", "read"),
    # NIST SP 800-88 Rev. 2, September 2025: clear, purge, destroy (read).
    ("wipe-before-sale", ["Clear or purge", "Destroy"], "NIST SP 800-88 Rev. 2", "read"),
    # Device charging temperatures: published behaviour, varies by maker (read).
    ("charge-temperature", ["20 to 45 °C", "none below 0 or above 50 °C"], "charging behaviour", "read"),
    # From memory, marked as such.
    ("bismuth-meets-lead", ["96 °C"], "", "memory"),
    ("bake-before-heat", ["60 to 90 °C"], "J-STD-033", "memory"),
    ("injection-limit", ["lower of 0.5 V and half the rail's nominal", "never above nominal"], "", "memory"),
    ("bench-supply", ["Battery out", "polarity", "3.8 to 4.0 V"], "", "memory"),
    ("cell-away-from-heat", ["under 60 °C"], "", "memory"),
    ("no-ingress-claim", ["no longer applies"], "IEC 60529", "memory"),
    # Derived, and marked so.
    ("cell-low-voltage", ["below 2.5 V", "Below 1.5 V"], "", "derived"),
    ("first-charge-attended", ["0.5 A", "15 K", "45 °C", "50 °C"], "", "derived"),
]


@pytest.mark.parametrize(("slug", "says", "source", "mark"), CAUTIONS, ids=[row[0] for row in CAUTIONS])
def test_a_caution_repeats_its_source(slug, says, source, mark):
    caution = CATALOGUE.cautions[slug]
    text = " ".join(caution.lines)
    assert [words for words in says if words not in text] == []
    assert source in caution.source
    assert caution.mark == mark


# (final-check line, what its limit must say, the source it must name, its mark)
LINES = [
    # Regulation (EU) 2023/1670, Annex II: 80 % of rated after 800 cycles (read).
    ("cell-health", "80 %", "Regulation (EU) 2023/1670", "read"),
    # The limit is derived; 1 to 2 A seen at 5 V is common practice, no source.
    ("attended-charge", "0.5 A", "1 to 2 A is common practice", "derived"),
    ("wipe-proof", "clear or purge", "NIST SP 800-88 Rev. 2", "read"),
    ("surface-temperature", "45 °C", "IEC 62368-1", "derived"),
    ("solder-look", "class 2", "IPC-A-610", "memory"),
    # Shop figures, and marked so.
    ("sleep-current", "10 mA", "shop figure", "common practice, no source"),
    ("microphones", "6 dB", "shop figure", "common practice, no source"),
]


@pytest.mark.parametrize(("slug", "says", "source", "mark"), LINES, ids=[row[0] for row in LINES])
def test_a_final_check_names_where_its_limit_comes_from(slug, says, source, mark):
    line = CATALOGUE.verifications[slug]
    assert says in line.limit and source in line.source and line.mark == mark


def test_the_final_check_has_its_lines():
    assert len([line for line in CATALOGUE.verification if line.always != "data"]) == 31
    # A data job has its own: no seal is claimed, nothing is wiped.
    assert [line.slug for line in CATALOGUE.verification if line.always == "data"] == [
        "data-opened", "data-on-owner-storage", "data-device-safe", "data-own-copy",
    ]  # fmt: skip
    assert all(line.source and line.limit for line in CATALOGUE.verification)


def test_battery_and_ownership_cautions_are_always_shown():
    assert {caution.slug for caution in CATALOGUE.caution if caution.always} == {
        "damaged-cell",
        "cell-fire",
        "careful-opening",
        "ownership-first",
    }


@pytest.mark.parametrize(
    "slug",
    [
        "damaged-cell",
        "cell-fire",
        "cell-storage",
        "cell-transport",
        "cell-waste",
        "ownership-first",
        "data-privacy",
        "flux-fume",
        "lead",
        "laser-and-ultraviolet",
    ],
)
def test_law_waste_and_transport_defer_to_local_rules(slug):
    text = " ".join(CATALOGUE.cautions[slug].lines).lower()
    assert "local" in text or "licensed" in text


def test_no_caution_or_repair_offers_a_lock_bypass():
    text = " ".join(CATALOGUE.cautions["ownership-first"].lines)
    assert "No lock is bypassed" in text and "No number is ever changed" in text
    assert CATALOGUE.repairs_for("account-locked") == () == CATALOGUE.repairs_for("identity-mismatch")
