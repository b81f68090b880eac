"""Looking back at ended jobs: money, forecasts, drift.

May import: prediction, policy and below.
"""
