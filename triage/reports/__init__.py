"""Frozen results into JSON, text, charts and documents.

May import: review, lot selection, elicitation and below. Computes nothing that decides.
"""
