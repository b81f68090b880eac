"""The parts page: the shelf, parts that were sold, and the price book.

May import: `shared`.
"""
