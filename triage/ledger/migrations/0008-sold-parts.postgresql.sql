CREATE TABLE part_left (
  entry_id BIGINT NOT NULL,
  how TEXT NOT NULL CHECK ("how" IN ('sold', 'scrapped')),
  "on" DATE NOT NULL,
  shelf BIGINT,
  part TEXT NOT NULL,
  price_minor BIGINT NOT NULL,
  fees_minor BIGINT NOT NULL,
  cost_minor BIGINT NOT NULL,
  worth_minor BIGINT,
  person TEXT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(shelf) REFERENCES entry (id)
)

CREATE TABLE part_returned (
  entry_id BIGINT NOT NULL,
  "left" BIGINT NOT NULL,
  "on" DATE NOT NULL,
  "to" TEXT NOT NULL CHECK ("to" IN ('shelf', 'scrapped')),
  refund_minor BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY("left") REFERENCES entry (id)
)

ALTER TABLE part_fate DROP CONSTRAINT part_fate_fate_check

ALTER TABLE part_fate ADD CONSTRAINT part_fate_fate_check CHECK ("fate" IN ('arrived', 'dead-on-arrival', 'claimed', 'refunded', 'sent-back', 'fitted', 'lost', 'cancelled', 'shelved'))

ALTER TABLE shelf_part ADD COLUMN wiped TEXT NOT NULL DEFAULT ''

ALTER TABLE moved ADD COLUMN minutes DOUBLE PRECISION

CREATE TRIGGER part_left_kept BEFORE UPDATE OR DELETE ON part_left FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER part_returned_kept BEFORE UPDATE OR DELETE ON part_returned FOR EACH ROW EXECUTE FUNCTION refuse_change()
