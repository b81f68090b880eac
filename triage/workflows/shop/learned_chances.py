"""Where a shop's pages put what they learn from its record, and when they use it.

Beside the record's file, in a folder of the record's own name; never in the shipped demo.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from pathlib import Path

from triage.domain.catalogue import load_catalogue
from triage.errors import PosteriorError, TriageError
from triage.ledger.opening import folder_of_record, ledger_url, shared_folder
from triage.posterior.manifest import structure_digest
from triage.posterior.store import MANIFEST, load_manifest
from triage.shipped import shipped
from triage.workflows.shop.shop_files import ShopFiles

NOTHING_LEARNED = "there is no fit to this record yet"
ALL_FAILED = "every fit to this record failed its checks so far"


def learned_folder(where: str | None = None) -> Path:
    """The folder beside the record; in the user's data folder for one on a database server.

    where : the record, as `ledger_url` takes it; here and below the default one when None.
    """
    url = ledger_url(where)
    if url.get_backend_name() == "sqlite":
        name = Path(url.database or "").stem
    elif shared_folder():  # benches may reach one server by several names
        name = f"record-{re.sub('[^0-9A-Za-z-]', '-', url.database or '')}"
    else:
        server = f"{url.host}:{url.port}/{url.database}"
        name = f"record-{hashlib.sha256(server.encode()).hexdigest()[:12]}"
    return folder_of_record(url) / f"{name}-learned"


def anything_learned(where: str | None = None) -> bool:
    """Whether a fit was ever put beside the record, usable or not."""
    folder = learned_folder(where)
    return (folder / MANIFEST).exists() or any(folder.glob("rejected-*"))


def where_to_learn(files: ShopFiles) -> Path:
    """Folder that a fit of the shop's record goes into: the shop's own, else the one beside the record."""
    if files.posterior is None or files.posterior.resolve().is_relative_to(shipped("models").resolve()):
        return learned_folder()
    return files.posterior


def with_learned(files: ShopFiles, where: str | None = None) -> ShopFiles:
    """The same files, with what was learned from the record in place of the demo's chances.

    Only where there is something learned that belongs to the catalogue; a folder of draws that
    was named by the user stands.
    """
    if files.posterior is not None or why_not_used(files, where):
        return files
    return replace(files, posterior=learned_folder(where))


def why_not_used(files: ShopFiles, where: str | None = None) -> str:
    """Why what lies beside the record is not used; "" where it is."""
    folder = learned_folder(where)
    if not (folder / MANIFEST).exists():
        return ALL_FAILED if anything_learned(where) else NOTHING_LEARNED
    try:
        manifest = load_manifest(folder)
    except PosteriorError as problem:
        return f"it cannot be read: {problem}"
    try:
        known = load_catalogue(files.catalogue)
    except TriageError:
        return "the catalogue cannot be read"
    if manifest.structure != structure_digest(known):
        return "it was fitted with other damage kinds; run a new fit"
    return ""
