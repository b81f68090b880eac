"""Rules of a job that saves an owner's data. May import: the job's file and what its other rules share."""
