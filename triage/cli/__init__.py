"""The `triage` command, one command a file; commands of a group lie in a folder of their own.

May import: everything below but the pages.
"""
