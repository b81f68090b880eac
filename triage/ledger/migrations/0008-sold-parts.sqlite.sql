CREATE TABLE part_left (
  entry_id INTEGER NOT NULL,
  how TEXT NOT NULL CHECK ("how" IN ('sold', 'scrapped')),
  "on" DATE NOT NULL,
  shelf INTEGER,
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
  entry_id INTEGER NOT NULL,
  "left" INTEGER NOT NULL,
  "on" DATE NOT NULL,
  "to" TEXT NOT NULL CHECK ("to" IN ('shelf', 'scrapped')),
  refund_minor BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY("left") REFERENCES entry (id)
)

CREATE TABLE part_fate_new (
  entry_id INTEGER NOT NULL,
  "order" INTEGER NOT NULL,
  "on" DATE NOT NULL,
  fate TEXT NOT NULL CHECK ("fate" IN ('arrived', 'dead-on-arrival', 'claimed', 'refunded', 'sent-back', 'fitted', 'lost', 'cancelled', 'shelved')),
  refund_minor BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY("order") REFERENCES entry (id)
)

INSERT INTO part_fate_new SELECT entry_id, "order", "on", fate, refund_minor, note FROM part_fate

DROP TABLE part_fate

ALTER TABLE part_fate_new RENAME TO part_fate

ALTER TABLE shelf_part ADD COLUMN wiped TEXT NOT NULL DEFAULT ''

ALTER TABLE moved ADD COLUMN minutes DOUBLE

CREATE TRIGGER part_fate_no_update BEFORE UPDATE ON part_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_fate_no_delete BEFORE DELETE ON part_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_left_no_update BEFORE UPDATE ON part_left BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_left_no_delete BEFORE DELETE ON part_left BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_returned_no_update BEFORE UPDATE ON part_returned BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_returned_no_delete BEFORE DELETE ON part_returned BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END
