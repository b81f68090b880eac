"""A shop as it is opened: its files, record, settings, assumptions, learned chances.

May import: no other folder of the workflows.
"""
