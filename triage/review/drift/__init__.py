"""Whether a kind of damage has left its chances, and fits that forget. May import: `forecasts`."""
