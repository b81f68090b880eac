"""What the shell offers for a word that is being typed: slugs of the catalogue and of the price book."""

from __future__ import annotations

import typer

from triage.errors import TriageError

Offered = list[tuple[str, str]]


def damage_kinds(context: typer.Context, incomplete: str) -> Offered:
    """Damage kinds of the catalogue named on the line, or of the shipped one."""
    from triage.domain.catalogue import load_catalogue

    try:
        kinds = load_catalogue(context.params.get("catalogue")).kinds
    except TriageError:
        return []
    return [(slug, kind.name) for slug, kind in kinds.items() if slug.startswith(incomplete)]


def tier_counts(context: typer.Context, incomplete: str) -> Offered:
    """`CLASS=`, for each price class of the price book named on the line, or of the shipped one."""
    from triage.domain.shop.price_book import load_price_book
    from triage.shipped import shipped
    from triage.workflows.shop.shop import DEMO_PRICES

    try:
        book = load_price_book(context.params.get("prices") or shipped(DEMO_PRICES))
    except TriageError:
        return []
    return [(f"{tier}=", "maximum number") for tier in book.tiers() if tier.startswith(incomplete)]
