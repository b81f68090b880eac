"""A shop's books: settings, price book, shelf, part prices as found.

May import: modules of the domain outside `job` and `units`.
"""
