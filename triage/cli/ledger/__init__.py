"""`triage record`: import, export, back up, restore and summarise the record."""
