"""The shop's record in SQLite or PostgreSQL, and past jobs in and out of it.

May import: the domain.
"""
