"""The list of jobs and the page of one job, from intake to collection and comeback.

May import: `device`, `shared`.
"""
