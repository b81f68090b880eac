ALTER TABLE moved ADD COLUMN worth_minor BIGINT

ALTER TABLE shelf_part ADD COLUMN worth_minor BIGINT

ALTER TABLE part_ordered ADD COLUMN worth_minor BIGINT

ALTER TABLE attempt ADD COLUMN shelf_minor BIGINT
