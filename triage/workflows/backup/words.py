"""What a backup holds and does not hold, in words."""

from __future__ import annotations

from triage.workflows.backup.manifest import Manifest, Missing
from triage.workflows.backup.places import IN_BACKUP, ONE_FILE, PartName

PART_WORDS: dict[PartName, str] = {
    "settings": "settings",
    "models": "model prices",
    "import": "matches of your spreadsheet",
    "beliefs": "assumptions",
    "learned": "learned chances",
    "photos": "photographs",
    "named": "named files",
}


def held_words(manifest: Manifest) -> str:
    """What a backup holds, in one line."""
    told = []
    if kept := manifest.record:
        told.append(f"{kept.jobs:,} jobs, {kept.entries:,} entries")
    for part, place in IN_BACKUP.items():
        count = sum(one.path == place or one.path.startswith(f"{place}/") for one in manifest.files)
        if count:
            files = f" ({count:,} {'file' if count == 1 else 'files'})"
            told.append(PART_WORDS[part] + ("" if part in ONE_FILE else files))
    return "; ".join(told) or "nothing"


def missing_words(missing: Missing) -> str:
    """What of a shop is not in its backup, and why."""
    what = missing.what
    if missing.kind == "record":
        return "the record: left out"
    if missing.kind == "passcodes":
        return f"passcodes of owners' devices ({what}): not included without --with-passcodes"
    if missing.kind == "photo":
        return f"the photograph of {what}: missing in the photo folder"
    if missing.kind == "photo-changed":
        return (
            f"the original photograph of {what}: the file changed since, and the backup holds it as it is now"
        )
    if missing.kind == "named-file":
        return f"{what}: named, but does not exist"
    return f"{what}: its name is not valid on every system"
