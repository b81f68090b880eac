"""A shop's past jobs from a spreadsheet of its own: what is in order, what is not, what was matched.

May import: `jobs`, `shop`.
"""
