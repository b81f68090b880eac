-- Marks the file as a record of this program.
PRAGMA application_id = 1953654629

CREATE TABLE job (
  id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
  label TEXT NOT NULL,
  route TEXT NOT NULL CHECK (route IN ('bought', 'walk-in')),
  currency TEXT NOT NULL,
  opened DATETIME NOT NULL,
  import_key TEXT,
  version INTEGER NOT NULL,
  UNIQUE (label),
  UNIQUE (import_key)
)

CREATE TABLE migration (
  number INTEGER NOT NULL,
  name TEXT NOT NULL,
  applied_at DATETIME NOT NULL,
  program TEXT NOT NULL,
  PRIMARY KEY (number)
)

CREATE TABLE draft (
  token TEXT NOT NULL,
  saved_at DATETIME NOT NULL,
  toml TEXT NOT NULL,
  ask_minor BIGINT,
  currency TEXT NOT NULL,
  walk_in BOOLEAN NOT NULL,
  job_id INTEGER,
  PRIMARY KEY (token),
  FOREIGN KEY(job_id) REFERENCES job (id)
)

CREATE TABLE entry (
  id INTEGER NOT NULL,
  job_id INTEGER,
  root INTEGER NOT NULL,
  at DATETIME NOT NULL,
  "by" TEXT NOT NULL,
  what TEXT NOT NULL,
  why TEXT NOT NULL,
  PRIMARY KEY (id),
  FOREIGN KEY(job_id) REFERENCES job (id),
  FOREIGN KEY(root) REFERENCES entry (id)
)

CREATE INDEX ix_entry_job_id ON entry (job_id)

CREATE INDEX ix_entry_root ON entry (root)

CREATE TABLE passcode (
  job_id INTEGER NOT NULL,
  code TEXT NOT NULL,
  kept_at DATETIME NOT NULL,
  PRIMARY KEY (job_id),
  FOREIGN KEY(job_id) REFERENCES job (id)
)

CREATE TABLE answer (
  entry_id INTEGER NOT NULL,
  quote INTEGER NOT NULL,
  "on" DATE NOT NULL,
  yes BOOLEAN NOT NULL,
  who TEXT NOT NULL,
  how TEXT NOT NULL,
  ceiling_minor BIGINT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(quote) REFERENCES entry (id)
)

CREATE TABLE attempt (
  entry_id INTEGER NOT NULL,
  finding TEXT NOT NULL,
  outcome TEXT NOT NULL CHECK ("outcome" IN ('fixed', 'not-fixed', 'not-attempted')),
  method TEXT NOT NULL,
  why_not TEXT NOT NULL,
  minutes DOUBLE,
  parts_minor BIGINT,
  book_minor BIGINT,
  technician TEXT NOT NULL,
  round BIGINT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE check_made (
  entry_id INTEGER NOT NULL,
  "check" TEXT NOT NULL,
  found BOOLEAN NOT NULL,
  minutes DOUBLE,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE comeback (
  entry_id INTEGER NOT NULL,
  "on" DATE NOT NULL,
  kind TEXT NOT NULL CHECK ("kind" IN ('same-fault', 'our-damage', 'dead-part', 'new-damage', 'no-fault-found')),
  remedy TEXT NOT NULL CHECK ("remedy" IN ('rework', 'refund', 'replacement', 'declined', 'open', 'not-told')),
  cost_minor BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE decision (
  entry_id INTEGER NOT NULL,
  verdict TEXT NOT NULL,
  posterior TEXT NOT NULL,
  priors TEXT NOT NULL,
  program TEXT NOT NULL,
  description TEXT NOT NULL,
  price_minor BIGINT,
  limit_minor BIGINT,
  margin_minor BIGINT,
  minutes DOUBLE,
  losses_in_20 BIGINT,
  chances TEXT NOT NULL,
  dots TEXT NOT NULL,
  forecast TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE found_damage (
  entry_id INTEGER NOT NULL,
  kind TEXT NOT NULL,
  severity BIGINT NOT NULL,
  zone TEXT NOT NULL,
  chance DOUBLE NOT NULL,
  known_at TEXT NOT NULL CHECK ("known_at" IN ('intake', 'opening', 'test')),
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE hand_over (
  entry_id INTEGER NOT NULL,
  "on" DATE NOT NULL,
  grade TEXT NOT NULL CHECK ("grade" IN ('working', 'downgraded', 'unfixed', 'parts')),
  disclosure TEXT NOT NULL,
  warranty_days BIGINT NOT NULL,
  person TEXT NOT NULL,
  wiped TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE intake (
  entry_id INTEGER NOT NULL,
  "on" DATE NOT NULL,
  description TEXT NOT NULL,
  name TEXT NOT NULL,
  tier TEXT NOT NULL,
  model TEXT NOT NULL,
  cause TEXT NOT NULL,
  technician TEXT NOT NULL,
  ask_minor BIGINT,
  working_price_minor BIGINT,
  person TEXT NOT NULL,
  contact TEXT NOT NULL,
  identity_shown TEXT NOT NULL,
  came_with TEXT NOT NULL,
  data TEXT NOT NULL CHECK ("data" IN ('wanted', 'not-wanted', 'not-asked')),
  backed_up TEXT NOT NULL CHECK ("backed_up" IN ('yes', 'no', 'not-known')),
  battery_looked_at BOOLEAN NOT NULL,
  consents TEXT NOT NULL,
  promised_for DATE,
  imported_from TEXT NOT NULL,
  not_told TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE later_fate (
  entry_id INTEGER NOT NULL,
  margin_minor BIGINT NOT NULL,
  source TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE line_checked (
  entry_id INTEGER NOT NULL,
  line TEXT NOT NULL,
  result TEXT NOT NULL CHECK ("result" IN ('pass', 'fail', 'cannot')),
  reading DOUBLE,
  unit TEXT NOT NULL,
  sealed BOOLEAN NOT NULL,
  round BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE looked_inside (
  entry_id INTEGER NOT NULL,
  found TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE moved (
  entry_id INTEGER NOT NULL,
  move TEXT NOT NULL CHECK ("move" IN ('decline', 'reconsider', 'take', 'start', 'wait', 'resume', 'verify', 'reopen', 'make-ready', 'sell', 'return-fixed', 'return-unfixed', 'strip', 'dispose', 'leave-uncollected', 'come-back', 'rework', 'take-back', 'send-back')),
  state TEXT NOT NULL CHECK ("state" IN ('considered', 'declined', 'taken', 'in-work', 'waiting', 'verified', 'ready', 'sold', 'returned-fixed', 'returned-unfixed', 'stripped', 'disposed', 'uncollected', 'came-back')),
  "on" DATE NOT NULL,
  wait_for TEXT CHECK ("wait_for" IN ('part', 'owner-answer', 'payment', 'tool')),
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE part_fate (
  entry_id INTEGER NOT NULL,
  "order" INTEGER NOT NULL,
  "on" DATE NOT NULL,
  fate TEXT NOT NULL CHECK ("fate" IN ('arrived', 'dead-on-arrival', 'claimed', 'refunded', 'sent-back', 'fitted', 'lost')),
  refund_minor BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY("order") REFERENCES entry (id)
)

CREATE TABLE part_ordered (
  entry_id INTEGER NOT NULL,
  part TEXT NOT NULL,
  source TEXT NOT NULL,
  cost_minor BIGINT NOT NULL,
  tax_minor BIGINT NOT NULL,
  grade TEXT NOT NULL,
  returnable_until DATE,
  due DATE,
  shelf INTEGER,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(shelf) REFERENCES entry (id)
)

CREATE TABLE payment (
  entry_id INTEGER NOT NULL,
  purpose TEXT NOT NULL CHECK ("purpose" IN ('purchase', 'deposit', 'diagnostic-fee', 'repair', 'sale', 'refund', 'fee', 'other')),
  amount_minor BIGINT NOT NULL,
  "on" DATE NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE photo (
  entry_id INTEGER NOT NULL,
  path TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  caption TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE place (
  entry_id INTEGER NOT NULL,
  "where" TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE price_found (
  entry_id INTEGER NOT NULL,
  part TEXT NOT NULL,
  source TEXT NOT NULL,
  cost_minor BIGINT NOT NULL,
  currency TEXT NOT NULL,
  checked_on DATE NOT NULL,
  tax_minor BIGINT NOT NULL,
  tier TEXT NOT NULL,
  model TEXT NOT NULL,
  grade TEXT NOT NULL,
  lead_low DOUBLE NOT NULL,
  lead_likely DOUBLE NOT NULL,
  lead_high DOUBLE NOT NULL,
  returnable_days BIGINT NOT NULL,
  dead_on_arrival DOUBLE NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE quote_given (
  entry_id INTEGER NOT NULL,
  number BIGINT NOT NULL,
  "on" DATE NOT NULL,
  price_minor BIGINT NOT NULL,
  ceiling_minor BIGINT NOT NULL,
  valid_until DATE NOT NULL,
  covers TEXT NOT NULL,
  letter TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE shelf_moved (
  entry_id INTEGER NOT NULL,
  shelf INTEGER NOT NULL,
  move TEXT NOT NULL CHECK ("move" IN ('reserved', 'released', 'fitted', 'scrapped', 'sold')),
  job INTEGER,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(shelf) REFERENCES entry (id),
  FOREIGN KEY(job) REFERENCES job (id)
)

CREATE TABLE shelf_part (
  entry_id INTEGER NOT NULL,
  part TEXT NOT NULL,
  cost_minor BIGINT NOT NULL,
  currency TEXT NOT NULL,
  donor INTEGER,
  tier TEXT NOT NULL,
  model TEXT NOT NULL,
  grade TEXT NOT NULL,
  tested BOOLEAN NOT NULL,
  paired BOOLEAN NOT NULL,
  bin TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(donor) REFERENCES job (id)
)

CREATE TABLE stop (
  entry_id INTEGER NOT NULL,
  reason TEXT NOT NULL,
  about TEXT NOT NULL CHECK ("about" IN ('ownership', 'battery', 'data', 'money', 'other')),
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE stop_resolved (
  entry_id INTEGER NOT NULL,
  stop INTEGER NOT NULL,
  how TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(stop) REFERENCES entry (id)
)

CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER moved_no_update BEFORE UPDATE ON moved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER moved_no_delete BEFORE DELETE ON moved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER intake_no_update BEFORE UPDATE ON intake BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER intake_no_delete BEFORE DELETE ON intake BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER found_damage_no_update BEFORE UPDATE ON found_damage BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER found_damage_no_delete BEFORE DELETE ON found_damage BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER check_made_no_update BEFORE UPDATE ON check_made BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER check_made_no_delete BEFORE DELETE ON check_made BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER looked_inside_no_update BEFORE UPDATE ON looked_inside BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER looked_inside_no_delete BEFORE DELETE ON looked_inside BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER stop_no_update BEFORE UPDATE ON stop BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER stop_no_delete BEFORE DELETE ON stop BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER stop_resolved_no_update BEFORE UPDATE ON stop_resolved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER stop_resolved_no_delete BEFORE DELETE ON stop_resolved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER place_no_update BEFORE UPDATE ON place BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER place_no_delete BEFORE DELETE ON place BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER photo_no_update BEFORE UPDATE ON photo BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER photo_no_delete BEFORE DELETE ON photo BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER decision_no_update BEFORE UPDATE ON decision BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER decision_no_delete BEFORE DELETE ON decision BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER quote_given_no_update BEFORE UPDATE ON quote_given BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER quote_given_no_delete BEFORE DELETE ON quote_given BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER answer_no_update BEFORE UPDATE ON answer BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER answer_no_delete BEFORE DELETE ON answer BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER attempt_no_update BEFORE UPDATE ON attempt BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER attempt_no_delete BEFORE DELETE ON attempt BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER line_checked_no_update BEFORE UPDATE ON line_checked BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER line_checked_no_delete BEFORE DELETE ON line_checked BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_ordered_no_update BEFORE UPDATE ON part_ordered BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_ordered_no_delete BEFORE DELETE ON part_ordered BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_fate_no_update BEFORE UPDATE ON part_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER part_fate_no_delete BEFORE DELETE ON part_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER payment_no_update BEFORE UPDATE ON payment BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER payment_no_delete BEFORE DELETE ON payment BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER hand_over_no_update BEFORE UPDATE ON hand_over BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER hand_over_no_delete BEFORE DELETE ON hand_over BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER comeback_no_update BEFORE UPDATE ON comeback BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER comeback_no_delete BEFORE DELETE ON comeback BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER later_fate_no_update BEFORE UPDATE ON later_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER later_fate_no_delete BEFORE DELETE ON later_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER price_found_no_update BEFORE UPDATE ON price_found BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER price_found_no_delete BEFORE DELETE ON price_found BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER shelf_part_no_update BEFORE UPDATE ON shelf_part BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER shelf_part_no_delete BEFORE DELETE ON shelf_part BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER shelf_moved_no_update BEFORE UPDATE ON shelf_moved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER shelf_moved_no_delete BEFORE DELETE ON shelf_moved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER job_no_update BEFORE UPDATE OF id, label, route, currency, opened, import_key ON job BEGIN
  SELECT RAISE(ABORT, 'a job is never renamed');
END

CREATE TRIGGER job_no_delete BEFORE DELETE ON job BEGIN
  SELECT RAISE(ABORT, 'a job is never deleted');
END
