-- Entry numbers are handed out in blocks, ahead of their rows.
CREATE SEQUENCE entry_number

CREATE TABLE job (
  id BIGSERIAL NOT NULL,
  label TEXT NOT NULL,
  route TEXT NOT NULL CHECK (route IN ('bought', 'walk-in')),
  currency TEXT NOT NULL,
  opened TIMESTAMP WITHOUT TIME ZONE NOT NULL,
  import_key TEXT,
  version INTEGER NOT NULL,
  PRIMARY KEY (id),
  UNIQUE (label),
  UNIQUE (import_key)
)

CREATE TABLE migration (
  number INTEGER NOT NULL,
  name TEXT NOT NULL,
  applied_at TIMESTAMP WITHOUT TIME ZONE NOT NULL,
  program TEXT NOT NULL,
  PRIMARY KEY (number)
)

CREATE TABLE draft (
  token TEXT NOT NULL,
  saved_at TIMESTAMP WITHOUT TIME ZONE NOT NULL,
  toml TEXT NOT NULL,
  ask_minor BIGINT,
  currency TEXT NOT NULL,
  walk_in BOOLEAN NOT NULL,
  job_id BIGINT,
  PRIMARY KEY (token),
  FOREIGN KEY(job_id) REFERENCES job (id)
)

CREATE TABLE entry (
  id BIGINT NOT NULL,
  job_id BIGINT,
  root BIGINT NOT NULL,
  at TIMESTAMP WITHOUT TIME ZONE NOT NULL,
  by TEXT NOT NULL,
  what TEXT NOT NULL,
  why TEXT NOT NULL,
  PRIMARY KEY (id),
  FOREIGN KEY(job_id) REFERENCES job (id),
  FOREIGN KEY(root) REFERENCES entry (id)
)

CREATE INDEX ix_entry_job_id ON entry (job_id)

CREATE INDEX ix_entry_root ON entry (root)

CREATE TABLE passcode (
  job_id BIGINT NOT NULL,
  code TEXT NOT NULL,
  kept_at TIMESTAMP WITHOUT TIME ZONE NOT NULL,
  PRIMARY KEY (job_id),
  FOREIGN KEY(job_id) REFERENCES job (id)
)

CREATE TABLE answer (
  entry_id BIGINT NOT NULL,
  quote BIGINT NOT NULL,
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
  entry_id BIGINT NOT NULL,
  finding TEXT NOT NULL,
  outcome TEXT NOT NULL CHECK ("outcome" IN ('fixed', 'not-fixed', 'not-attempted')),
  method TEXT NOT NULL,
  why_not TEXT NOT NULL,
  minutes DOUBLE PRECISION,
  parts_minor BIGINT,
  book_minor BIGINT,
  technician TEXT NOT NULL,
  round BIGINT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE check_made (
  entry_id BIGINT NOT NULL,
  "check" TEXT NOT NULL,
  found BOOLEAN NOT NULL,
  minutes DOUBLE PRECISION,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE comeback (
  entry_id BIGINT NOT NULL,
  "on" DATE NOT NULL,
  kind TEXT NOT NULL CHECK ("kind" IN ('same-fault', 'our-damage', 'dead-part', 'new-damage', 'no-fault-found')),
  remedy TEXT NOT NULL CHECK ("remedy" IN ('rework', 'refund', 'replacement', 'declined', 'open', 'not-told')),
  cost_minor BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE decision (
  entry_id BIGINT NOT NULL,
  verdict TEXT NOT NULL,
  posterior TEXT NOT NULL,
  priors TEXT NOT NULL,
  program TEXT NOT NULL,
  description TEXT NOT NULL,
  price_minor BIGINT,
  limit_minor BIGINT,
  margin_minor BIGINT,
  minutes DOUBLE PRECISION,
  losses_in_20 BIGINT,
  chances TEXT NOT NULL,
  dots TEXT NOT NULL,
  forecast TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE found_damage (
  entry_id BIGINT NOT NULL,
  kind TEXT NOT NULL,
  severity BIGINT NOT NULL,
  zone TEXT NOT NULL,
  chance DOUBLE PRECISION NOT NULL,
  known_at TEXT NOT NULL CHECK ("known_at" IN ('intake', 'opening', 'test')),
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE hand_over (
  entry_id BIGINT NOT NULL,
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
  entry_id BIGINT NOT NULL,
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
  entry_id BIGINT NOT NULL,
  margin_minor BIGINT NOT NULL,
  source TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE line_checked (
  entry_id BIGINT NOT NULL,
  line TEXT NOT NULL,
  result TEXT NOT NULL CHECK ("result" IN ('pass', 'fail', 'cannot')),
  reading DOUBLE PRECISION,
  unit TEXT NOT NULL,
  sealed BOOLEAN NOT NULL,
  round BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE looked_inside (
  entry_id BIGINT NOT NULL,
  found TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE moved (
  entry_id BIGINT NOT NULL,
  move TEXT NOT NULL CHECK ("move" IN ('decline', 'reconsider', 'take', 'start', 'wait', 'resume', 'verify', 'reopen', 'make-ready', 'sell', 'return-fixed', 'return-unfixed', 'strip', 'dispose', 'leave-uncollected', 'come-back', 'rework', 'take-back', 'send-back')),
  state TEXT NOT NULL CHECK ("state" IN ('considered', 'declined', 'taken', 'in-work', 'waiting', 'verified', 'ready', 'sold', 'returned-fixed', 'returned-unfixed', 'stripped', 'disposed', 'uncollected', 'came-back')),
  "on" DATE NOT NULL,
  wait_for TEXT CHECK ("wait_for" IN ('part', 'owner-answer', 'payment', 'tool')),
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE part_fate (
  entry_id BIGINT NOT NULL,
  "order" BIGINT NOT NULL,
  "on" DATE NOT NULL,
  fate TEXT NOT NULL CHECK ("fate" IN ('arrived', 'dead-on-arrival', 'claimed', 'refunded', 'sent-back', 'fitted', 'lost')),
  refund_minor BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY("order") REFERENCES entry (id)
)

CREATE TABLE part_ordered (
  entry_id BIGINT NOT NULL,
  part TEXT NOT NULL,
  source TEXT NOT NULL,
  cost_minor BIGINT NOT NULL,
  tax_minor BIGINT NOT NULL,
  grade TEXT NOT NULL,
  returnable_until DATE,
  due DATE,
  shelf BIGINT,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(shelf) REFERENCES entry (id)
)

CREATE TABLE payment (
  entry_id BIGINT NOT NULL,
  purpose TEXT NOT NULL CHECK ("purpose" IN ('purchase', 'deposit', 'diagnostic-fee', 'repair', 'sale', 'refund', 'fee', 'other')),
  amount_minor BIGINT NOT NULL,
  "on" DATE NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE photo (
  entry_id BIGINT NOT NULL,
  path TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  caption TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE place (
  entry_id BIGINT NOT NULL,
  "where" TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE price_found (
  entry_id BIGINT NOT NULL,
  part TEXT NOT NULL,
  source TEXT NOT NULL,
  cost_minor BIGINT NOT NULL,
  currency TEXT NOT NULL,
  checked_on DATE NOT NULL,
  tax_minor BIGINT NOT NULL,
  tier TEXT NOT NULL,
  model TEXT NOT NULL,
  grade TEXT NOT NULL,
  lead_low DOUBLE PRECISION NOT NULL,
  lead_likely DOUBLE PRECISION NOT NULL,
  lead_high DOUBLE PRECISION NOT NULL,
  returnable_days BIGINT NOT NULL,
  dead_on_arrival DOUBLE PRECISION NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE quote_given (
  entry_id BIGINT NOT NULL,
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
  entry_id BIGINT NOT NULL,
  shelf BIGINT NOT NULL,
  move TEXT NOT NULL CHECK ("move" IN ('reserved', 'released', 'fitted', 'scrapped', 'sold')),
  job BIGINT,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(shelf) REFERENCES entry (id),
  FOREIGN KEY(job) REFERENCES job (id)
)

CREATE TABLE shelf_part (
  entry_id BIGINT NOT NULL,
  part TEXT NOT NULL,
  cost_minor BIGINT NOT NULL,
  currency TEXT NOT NULL,
  donor BIGINT,
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
  entry_id BIGINT NOT NULL,
  reason TEXT NOT NULL,
  about TEXT NOT NULL CHECK ("about" IN ('ownership', 'battery', 'data', 'money', 'other')),
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE stop_resolved (
  entry_id BIGINT NOT NULL,
  stop BIGINT NOT NULL,
  how TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(stop) REFERENCES entry (id)
)

CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'a record is corrected by a new one, never changed';
END
$$

CREATE TRIGGER entry_kept BEFORE UPDATE OR DELETE ON entry FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER moved_kept BEFORE UPDATE OR DELETE ON moved FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER intake_kept BEFORE UPDATE OR DELETE ON intake FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER found_damage_kept BEFORE UPDATE OR DELETE ON found_damage FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER check_made_kept BEFORE UPDATE OR DELETE ON check_made FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER looked_inside_kept BEFORE UPDATE OR DELETE ON looked_inside FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER stop_kept BEFORE UPDATE OR DELETE ON stop FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER stop_resolved_kept BEFORE UPDATE OR DELETE ON stop_resolved FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER place_kept BEFORE UPDATE OR DELETE ON place FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER photo_kept BEFORE UPDATE OR DELETE ON photo FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER decision_kept BEFORE UPDATE OR DELETE ON decision FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER quote_given_kept BEFORE UPDATE OR DELETE ON quote_given FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER answer_kept BEFORE UPDATE OR DELETE ON answer FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER attempt_kept BEFORE UPDATE OR DELETE ON attempt FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER line_checked_kept BEFORE UPDATE OR DELETE ON line_checked FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER part_ordered_kept BEFORE UPDATE OR DELETE ON part_ordered FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER part_fate_kept BEFORE UPDATE OR DELETE ON part_fate FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER payment_kept BEFORE UPDATE OR DELETE ON payment FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER hand_over_kept BEFORE UPDATE OR DELETE ON hand_over FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER comeback_kept BEFORE UPDATE OR DELETE ON comeback FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER later_fate_kept BEFORE UPDATE OR DELETE ON later_fate FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER price_found_kept BEFORE UPDATE OR DELETE ON price_found FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER shelf_part_kept BEFORE UPDATE OR DELETE ON shelf_part FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER shelf_moved_kept BEFORE UPDATE OR DELETE ON shelf_moved FOR EACH ROW EXECUTE FUNCTION refuse_change()

CREATE TRIGGER job_kept BEFORE DELETE OR UPDATE OF id, label, route, currency, opened, import_key ON job FOR EACH ROW EXECUTE FUNCTION refuse_change()
