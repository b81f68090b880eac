"""Saving an owner's data as a job of its own: chance, price, steps. May import: the rest of `policy`."""
