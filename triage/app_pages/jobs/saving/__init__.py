"""A data job on the job page, and our copies that must be erased. May import: `job_in_hand`, `shared`."""
