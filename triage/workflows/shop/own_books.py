"""Which books stand: a file that was named, else the shop's own beside its record, else the demo's."""

from __future__ import annotations

from triage.domain.shop.supply import Supply
from triage.ledger.opening import ledger_url
from triage.workflows.shop.learned_chances import anything_learned, why_not_used, with_learned
from triage.workflows.shop.own_models import with_own_models
from triage.workflows.shop.own_sets import with_chosen_set
from triage.workflows.shop.own_settings import with_own_settings
from triage.workflows.shop.shop_files import ShopFiles


def own_books(named: ShopFiles, where: str | None = None) -> ShopFiles:
    """The files named, with what the shop learned, set and believes in place of the demo's.

    where : the shop's record, as `ledger_url` takes it; the default one when None.
    """
    return with_chosen_set(
        with_own_models(with_own_settings(with_learned(named, where), where), where), where
    )


def own_books_words(named: ShopFiles, files: ShopFiles, supply: Supply, where: str | None = None) -> str:
    """Say in one line what is the shop's own among `files`; "" where nothing is.

    files : what `own_books` made of `named`. supply : what the record knows of parts.
    """
    own = []
    if files.posterior != named.posterior:
        own.append("a fit to its jobs")
    elif why := why_left_aside(files, where):
        own.append(f"no fit, {why}")
    if files.settings != named.settings:
        own.append("rates and rules")
    if files.priors != named.priors and files.priors is not None:
        own.append(f"assumptions ({files.priors.name})")
    if files.models != named.models:
        own.append("model prices")
    for count, one in ((len(supply.found), "price noted"), (len(supply.shelf), "part on the shelf")):
        if count:
            own.append(f"{count:,} {one if count == 1 else one.replace(' ', 's ', 1)}")
    record = ledger_url(where).render_as_string(hide_password=True).removeprefix("sqlite:///")
    return f"From the shop's record {record}: {'; '.join(own)}." if own else ""


def why_left_aside(files: ShopFiles, where: str | None = None) -> str:
    """Why the demo's chances are used though the shop has learned; "" where that is not so."""
    return why_not_used(files, where) if files.posterior is None and anything_learned(where) else ""
