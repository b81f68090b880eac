CREATE TABLE data_asked (
  entry_id BIGINT NOT NULL,
  backup TEXT NOT NULL CHECK ("backup" IN ('yes', 'no', 'not-known')),
  authority TEXT NOT NULL CHECK ("authority" IN ('owner', 'estate', 'other')),
  proof TEXT NOT NULL,
  matters TEXT NOT NULL,
  irreplaceable BOOLEAN NOT NULL,
  referral TEXT NOT NULL CHECK ("referral" IN ('not-advised', 'declined', 'accepted')),
  chips TEXT NOT NULL CHECK ("chips" IN ('yes', 'no', 'not-known')),
  code TEXT NOT NULL CHECK ("code" IN ('yes', 'no', 'not-known')),
  touch TEXT NOT NULL CHECK ("touch" IN ('works', 'donor', 'no', 'not-known')),
  quote BIGINT NOT NULL,
  "on" DATE NOT NULL,
  fee_minor BIGINT NOT NULL,
  part_minor BIGINT NOT NULL,
  all_chance DOUBLE PRECISION NOT NULL,
  part_chance DOUBLE PRECISION NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(quote) REFERENCES entry (id)
)

CREATE TABLE data_ended (
  entry_id BIGINT NOT NULL,
  "on" DATE NOT NULL,
  outcome TEXT NOT NULL CHECK ("outcome" IN ('all', 'part', 'none')),
  failed_at TEXT NOT NULL CHECK ("failed_at" IN ('', 'chips', 'board', 'touch', 'code', 'reading', 'stopped')),
  minutes DOUBLE PRECISION,
  saved TEXT NOT NULL,
  erase_by DATE,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE copy_erased (
  entry_id BIGINT NOT NULL,
  "on" DATE NOT NULL,
  how TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TRIGGER data_asked_kept BEFORE UPDATE OR DELETE ON data_asked FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER data_ended_kept BEFORE UPDATE OR DELETE ON data_ended FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER copy_erased_kept BEFORE UPDATE OR DELETE ON copy_erased FOR EACH ROW EXECUTE FUNCTION refuse_change()
