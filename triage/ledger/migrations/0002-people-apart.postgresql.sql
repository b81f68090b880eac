CREATE TABLE personal (
  entry_id BIGINT NOT NULL,
  field TEXT NOT NULL,
  value TEXT NOT NULL,
  PRIMARY KEY (entry_id, field),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

CREATE TABLE person_forgotten (
  entry_id BIGINT NOT NULL,
  "on" DATE NOT NULL,
  why TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
)

ALTER TABLE intake DISABLE TRIGGER intake_kept

ALTER TABLE answer DISABLE TRIGGER answer_kept

ALTER TABLE hand_over DISABLE TRIGGER hand_over_kept

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

ALTER TABLE intake ENABLE TRIGGER intake_kept

ALTER TABLE answer ENABLE TRIGGER answer_kept

ALTER TABLE hand_over ENABLE TRIGGER hand_over_kept

CREATE TRIGGER person_forgotten_kept BEFORE UPDATE OR DELETE ON person_forgotten FOR EACH ROW EXECUTE FUNCTION refuse_change()
