"""The quote page: a price for an owner, and the document to hand over.

May import: `device`, `jobs`, `shared`.
"""
