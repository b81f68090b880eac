"""Commands that quote an owner: for a repair, and for saving the data. May import: the rest of `cli`."""
