"""The lot page: upload a lot, read each unit's verdict, choose within cash and hours.

May import: `shared`.
"""
