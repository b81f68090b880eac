"""The page that brings a shop's past jobs in from a spreadsheet.

May import: `shared`.
"""
