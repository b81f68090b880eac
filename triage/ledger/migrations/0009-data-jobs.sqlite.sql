CREATE TABLE data_asked (
  entry_id INTEGER NOT NULL,
  backup TEXT NOT NULL CHECK ("backup" IN ('yes', 'no', 'not-known')),
  authority TEXT NOT NULL CHECK ("authority" IN ('owner', 'estate', 'other')),
  proof TEXT NOT NULL,
  matters TEXT NOT NULL,
  irreplaceable BOOLEAN NOT NULL,
  referral TEXT NOT NULL CHECK ("referral" IN ('not-advised', 'declined', 'accepted')),
  chips TEXT NOT NULL CHECK ("chips" IN ('yes', 'no', 'not-known')),
  code TEXT NOT NULL CHECK ("code" IN ('yes', 'no', 'not-known')),
  touch TEXT NOT NULL CHECK ("touch" IN ('works', 'donor', 'no', 'not-known')),
  quote INTEGER NOT NULL,
  "on" DATE NOT NULL,
  fee_minor BIGINT NOT NULL,
  part_minor BIGINT NOT NULL,
  all_chance DOUBLE NOT NULL,
  part_chance DOUBLE NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(quote) REFERENCES entry (id)
)

CREATE TABLE data_ended (
  entry_id INTEGER NOT NULL,
  "on" DATE NOT NULL,
  outcome TEXT NOT NULL CHECK ("outcome" IN ('all', 'part', 'none')),
  failed_at TEXT NOT NULL CHECK ("failed_at" IN ('', 'chips', 'board', 'touch', 'code', 'reading', 'stopped')),
  minutes DOUBLE,
  saved TEXT NOT NULL,
  erase_by DATE,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE copy_erased (
  entry_id INTEGER NOT NULL,
  "on" DATE NOT NULL,
  how TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TRIGGER data_asked_no_update BEFORE UPDATE ON data_asked BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER data_asked_no_delete BEFORE DELETE ON data_asked BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER data_ended_no_update BEFORE UPDATE ON data_ended BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER data_ended_no_delete BEFORE DELETE ON data_ended BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER copy_erased_no_update BEFORE UPDATE ON copy_erased BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER copy_erased_no_delete BEFORE DELETE ON copy_erased BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END
