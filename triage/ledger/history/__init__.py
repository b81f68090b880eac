"""Past jobs that come in as a table: its columns, cells and rows read, doubts asked about, jobs made of them.

May import: the modules of `ledger`.
"""
