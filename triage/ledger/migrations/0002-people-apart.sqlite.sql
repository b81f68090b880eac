CREATE TABLE personal (
  entry_id INTEGER NOT NULL,
  field TEXT NOT NULL,
  value TEXT NOT NULL,
  PRIMARY KEY (entry_id, field),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE person_forgotten (
  entry_id INTEGER NOT NULL,
  "on" DATE NOT NULL,
  why TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

DROP TRIGGER intake_no_update

DROP TRIGGER answer_no_update

DROP TRIGGER hand_over_no_update

INSERT INTO personal (entry_id, field, value) SELECT entry_id, 'person', person FROM intake WHERE person <> ''

UPDATE intake SET person = '' WHERE person <> ''

INSERT INTO personal (entry_id, field, value) SELECT entry_id, 'contact', contact FROM intake WHERE contact <> ''

UPDATE intake SET contact = '' WHERE contact <> ''

INSERT INTO personal (entry_id, field, value) SELECT entry_id, 'identity_shown', identity_shown FROM intake WHERE identity_shown <> ''

UPDATE intake SET identity_shown = '' WHERE identity_shown <> ''

INSERT INTO personal (entry_id, field, value) SELECT entry_id, 'who', who FROM answer WHERE who <> ''

UPDATE answer SET who = '' WHERE who <> ''

INSERT INTO personal (entry_id, field, value) SELECT entry_id, 'person', person FROM hand_over WHERE person <> ''

UPDATE hand_over SET person = '' WHERE person <> ''

CREATE TRIGGER intake_no_update BEFORE UPDATE ON intake BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER answer_no_update BEFORE UPDATE ON answer BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER hand_over_no_update BEFORE UPDATE ON hand_over BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER person_forgotten_no_update BEFORE UPDATE ON person_forgotten BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END

CREATE TRIGGER person_forgotten_no_delete BEFORE DELETE ON person_forgotten BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END
