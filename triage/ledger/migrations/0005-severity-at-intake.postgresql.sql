ALTER TABLE found_damage ADD COLUMN intake_severity BIGINT
