"""What is wrong with a device: damage by one tap each, symptoms, checks already done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import streamlit as st

from triage.app_pages.device.intake_places import by_place, drawing, zone_tapped
from triage.app_pages.shared.literal import literal
from triage.domain.catalogue import Catalogue
from triage.domain.units.suspicion import latest_results
from triage.domain.units.unit import CheckResult, Finding, Unit

_SEEN = 20  # twentieths: certain

KeyOf = Callable[[str], str]


def findings_part(unit: Unit, catalogue: Catalogue, key: KeyOf) -> tuple[Finding, ...]:
    """Draw the damage: bundles, kinds by place, then a line of taps for each one chosen."""
    held = {finding.kind: finding for finding in unit.findings}
    st.session_state.setdefault(key("kinds"), list(held))
    bundles = {bundle.slug: bundle for bundle in catalogue.bundle}
    left, right = st.columns([9, 5]) if catalogue.zones else (st.container(), None)
    with left:
        st.pills(
            "What happened? (adds the usual damage)", list(bundles), key=key("bundle"),
            format_func=lambda slug: bundles[slug].name, on_change=_add_bundle, args=(catalogue, key),
            wrap=True,
        )  # fmt: skip
        by_place(catalogue, key)
    order = {family: place for place, family in enumerate(catalogue.families)}
    kinds = sorted(catalogue.kinds.values(), key=lambda kind: order[kind.family])
    chosen = st.multiselect(
        "Damage, seen or suspected", [kind.slug for kind in kinds], key=key("kinds"),
        format_func=lambda slug: _kind_words(slug, catalogue), placeholder="Type to search, or tap above",
    )  # fmt: skip
    found = tuple(
        _finding(held.get(slug) or Finding(slug, zone=zone_tapped(slug, key)), catalogue, key)
        for slug in chosen
    )
    if right is not None:
        with right:
            drawing(found, catalogue)
    return found


def symptoms_part(unit: Unit, catalogue: Catalogue, key: KeyOf) -> tuple[str, ...]:
    """Draw the symptoms whose cause is unknown."""
    return tuple(
        st.multiselect(
            "Symptoms (cause unknown)",
            list(catalogue.symptoms),
            list(unit.symptoms),
            format_func=lambda slug: catalogue.symptoms[slug].name,
            key=key("symptoms"),
            placeholder="Choose",
        )  # fmt: skip
    )


def readings_part(unit: Unit, catalogue: Catalogue, key: KeyOf) -> tuple[CheckResult, ...]:
    """Draw the checks already made, by what they said."""
    checks = catalogue.checks
    held = latest_results(unit)
    found, clear = (
        st.multiselect(
            f"Checks done: {words}", list(checks), [slug for slug in held if held[slug] is said],
            format_func=lambda slug: checks[slug].name, key=key(f"checks-{said}"), placeholder="None",
        )
        for said, words in ((True, "fault found"), (False, "clear"))
    )  # fmt: skip
    return tuple(CheckResult(slug, True) for slug in found) + tuple(
        CheckResult(slug, False) for slug in clear if slug not in found
    )


def _add_bundle(catalogue: Catalogue, key: KeyOf) -> None:
    """Add the damage of the tapped bundle; it is a button, so it does not stay chosen."""
    state = st.session_state
    tapped = state.get(key("bundle"))
    for bundle in catalogue.bundle:
        if bundle.slug == tapped:
            state[key("kinds")] = list(dict.fromkeys([*state[key("kinds")], *bundle.kinds]))
            state[key("cause")] = bundle.cause
    state[key("bundle")] = None


def _finding(finding: Finding, catalogue: Catalogue, key: KeyOf) -> Finding:
    """Severity by one tap, place and certainty of one damage."""
    kind, zones = catalogue.kinds[finding.kind], catalogue.zones
    places = ["", *kind.zones, *(zone for zone in zones if zone not in kind.zones)]
    twentieths = sorted({*range(1, _SEEN + 1), 20 * finding.chance}, reverse=True)
    with st.container(gap="xsmall", key=key(f"{kind.slug}-row")):
        severity = st.pills(
            f"**{literal(kind.name)}**", [1, 2, 3], default=finding.severity, required=True,
            key=key(f"{kind.slug}-severity"),
            format_func=lambda level: f"{level}: {kind.severities[level - 1]}",
        )  # fmt: skip
        with st.grid(2, min_column_width=145, gap="xsmall"):
            zone = st.selectbox(
                "Location", places, places.index(finding.zone), key=key(f"{kind.slug}-zone"),
                format_func=lambda slug: zones[slug].name if slug else "not given",
            )  # fmt: skip
            count = st.selectbox(
                "Seen or suspected", twentieths, twentieths.index(20 * finding.chance),
                format_func=_presence_words, key=key(f"{kind.slug}-chance"),
            )  # fmt: skip
    return replace(finding, severity=severity or finding.severity, zone=zone, chance=count / _SEEN)


def _kind_words(slug: str, catalogue: Catalogue) -> str:
    kind = catalogue.kinds[slug]
    return f"{kind.name} ({catalogue.families[kind.family].name.lower()})"


def _presence_words(twentieths: float) -> str:
    return "seen" if twentieths >= _SEEN else f"suspected, {twentieths:g} in 20"
