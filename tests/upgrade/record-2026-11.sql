-- A record as it was kept before the safety rules (November 2026): four jobs, invented people and devices.
BEGIN TRANSACTION;
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
);
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
);
INSERT INTO "attempt" VALUES(12,'port-pins-damaged','fixed','resolder-port','',35.0,1080,NULL,'',0);
INSERT INTO "attempt" VALUES(50,'port-pins-damaged','fixed','resolder-port','',35.0,NULL,NULL,'',0);
CREATE TABLE check_made (
  entry_id INTEGER NOT NULL,
  "check" TEXT NOT NULL,
  found BOOLEAN NOT NULL,
  minutes DOUBLE,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
INSERT INTO "check_made" VALUES(3,'six-face-look',1,NULL,'');
INSERT INTO "check_made" VALUES(45,'six-face-look',1,NULL,'');
CREATE TABLE comeback (
  entry_id INTEGER NOT NULL,
  "on" DATE NOT NULL,
  kind TEXT NOT NULL CHECK ("kind" IN ('same-fault', 'our-damage', 'dead-part', 'new-damage', 'no-fault-found')),
  remedy TEXT NOT NULL CHECK ("remedy" IN ('rework', 'refund', 'replacement', 'declined', 'open', 'not-told')),
  cost_minor BIGINT NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
INSERT INTO "comeback" VALUES(28,'2027-01-10','same-fault','open',0,'');
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
);
INSERT INTO "decision" VALUES(5,'leave it','draws-ada58e68e603','ae939e45ca67c58a','0.1.0','
[device]
name = "black phone from the ferry"
tier = "middle"
model = "K2"
data_wanted = false

[ownership]
lock = "clear"
proof_recorded = true

[[finding]]
kind = "port-pins-damaged"
severity = 2

[[check]]
check = "six-face-look"
found = true
',4000,2001,334,9.0818191496883471812e+01,6,'{"port-pins-damaged": 0.9423083039033476}','[-4619, -2597, -1417, -835, -505, -207, 36, 241, 426, 611, 790, 962, 1139, 1323, 1481, 1681, 1925, 2205, 2590, 3250]','{"findings": {"port-pins-damaged": {"severity": 2, "presence": 1.0, "repair": "Solder in a new charge port", "low": 0.8995916786123718, "high": 0.974677155522191, "prior_only": false, "origin": "seen"}}, "plan": ["Settle who may sell or have it repaired: proof, numbers, lock, lists", "Open the device", "Swap the charge board", "Dry-fit and test everything before adhesive", "Close the device", "Seal with new adhesive all round", "Repeat the touch, camera, charge and radio checks: closing breaks things", "Final verification", "Wipe, prove it, grade it, sell it"], "chance_finished": 0.9897205609405293, "route": "buy", "source": "2,600 past jobs up to 2026-08-31", "promise": {"tries": [{"repair": "resolder-port", "kind": "port-pins-damaged", "chance": 0.9423083039033476, "minutes": [24.0, 33.2, 42.3, 54.2, 84.8], "mean_minutes": 47.02834660619087, "after": {"swap-charge-board": 0.7571325323357873}}, {"repair": "swap-charge-board", "kind": "port-pins-damaged", "chance": 0.9576746974045764, "minutes": [19.1, 26.7, 33.7, 43.5, 71.0], "mean_minutes": 38.17374637655802, "after": {"resolder-port": 0.8127488892593251}}], "together": ["resolder-port"], "patterns": [0.942308, 0.0576917], "work_minutes": [19.3, 26.8, 34.0, 44.5, 85.1], "mean_work_minutes": 40.17654569013095, "other_minutes": 50.53025, "other_cost": 25.265125}}');
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
);
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
);
INSERT INTO "entry" VALUES(1,1,1,'2026-11-29 20:52:55.255436','ada','intake','');
INSERT INTO "entry" VALUES(2,1,2,'2026-11-29 20:52:55.255558','ada','found_damage','');
INSERT INTO "entry" VALUES(3,1,3,'2026-11-29 20:52:55.255577','ada','check_made','');
INSERT INTO "entry" VALUES(4,1,1,'2026-11-29 20:52:55.282388','ada','intake','the battery was looked at');
INSERT INTO "entry" VALUES(5,1,5,'2026-11-29 20:52:55.321665','ada','decision','');
INSERT INTO "entry" VALUES(6,1,6,'2026-11-29 20:52:55.333558','ada','payment','');
INSERT INTO "entry" VALUES(7,1,7,'2026-11-29 20:52:55.333603','ada','moved','');
INSERT INTO "entry" VALUES(8,1,8,'2026-11-29 20:52:55.345296','ada','place','');
INSERT INTO "entry" VALUES(9,1,9,'2026-11-29 20:52:55.356463','ada','part_ordered','');
INSERT INTO "entry" VALUES(10,1,10,'2026-11-29 20:52:55.367663','ada','part_fate','');
INSERT INTO "entry" VALUES(11,1,11,'2026-11-29 20:52:55.378659','ada','moved','');
INSERT INTO "entry" VALUES(12,1,12,'2026-11-29 20:52:55.389544','ada','attempt','');
INSERT INTO "entry" VALUES(13,1,13,'2026-11-29 20:52:55.401628','ada','line_checked','');
INSERT INTO "entry" VALUES(14,1,14,'2026-11-29 20:52:55.413729','ada','line_checked','');
INSERT INTO "entry" VALUES(15,1,15,'2026-11-29 20:52:55.425628','ada','line_checked','');
INSERT INTO "entry" VALUES(16,1,16,'2026-11-29 20:52:55.437386','ada','line_checked','');
INSERT INTO "entry" VALUES(17,1,17,'2026-11-29 20:52:55.449147','ada','line_checked','');
INSERT INTO "entry" VALUES(18,1,18,'2026-11-29 20:52:55.460998','ada','line_checked','');
INSERT INTO "entry" VALUES(19,1,19,'2026-11-29 20:52:55.472911','ada','line_checked','');
INSERT INTO "entry" VALUES(20,1,20,'2026-11-29 20:52:55.484811','ada','line_checked','');
INSERT INTO "entry" VALUES(21,1,21,'2026-11-29 20:52:55.496743','ada','line_checked','');
INSERT INTO "entry" VALUES(22,1,22,'2026-11-29 20:52:55.508312','ada','line_checked','');
INSERT INTO "entry" VALUES(23,1,23,'2026-11-29 20:52:55.520240','ada','moved','');
INSERT INTO "entry" VALUES(24,1,24,'2026-11-29 20:52:55.531811','ada','moved','');
INSERT INTO "entry" VALUES(25,1,25,'2026-11-29 20:52:55.543294','ada','hand_over','');
INSERT INTO "entry" VALUES(26,1,26,'2026-11-29 20:52:55.543328','ada','payment','');
INSERT INTO "entry" VALUES(27,1,27,'2026-11-29 20:52:55.543344','ada','moved','');
INSERT INTO "entry" VALUES(28,1,28,'2026-11-29 20:52:55.554890','ada','comeback','');
INSERT INTO "entry" VALUES(29,1,29,'2026-11-29 20:52:55.554924','ada','moved','');
INSERT INTO "entry" VALUES(30,2,30,'2026-11-29 20:52:55.562587','ada','intake','');
INSERT INTO "entry" VALUES(31,2,31,'2026-11-29 20:52:55.562664','ada','found_damage','');
INSERT INTO "entry" VALUES(32,2,32,'2026-11-29 20:52:55.562675','ada','found_damage','');
INSERT INTO "entry" VALUES(33,2,30,'2026-11-29 20:52:55.574611','ada','intake','the battery was looked at');
INSERT INTO "entry" VALUES(34,2,34,'2026-11-29 20:52:55.585078','ada','payment','');
INSERT INTO "entry" VALUES(35,2,35,'2026-11-29 20:52:55.585116','ada','moved','');
INSERT INTO "entry" VALUES(36,2,36,'2026-11-29 20:52:55.596002','ada','moved','');
INSERT INTO "entry" VALUES(37,2,37,'2026-11-29 20:52:55.606889','ada','found_damage','');
INSERT INTO "entry" VALUES(38,2,38,'2026-11-29 20:52:55.606920','ada','stop','');
INSERT INTO "entry" VALUES(39,3,39,'2026-11-29 20:52:55.614495','ada','intake','');
INSERT INTO "entry" VALUES(40,3,40,'2026-11-29 20:52:55.614583','ada','found_damage','');
INSERT INTO "entry" VALUES(41,3,41,'2026-11-29 20:52:55.614615','ada','stop','');
INSERT INTO "entry" VALUES(42,3,39,'2026-11-29 20:52:55.626593','ada','intake','the battery was looked at');
INSERT INTO "entry" VALUES(43,4,43,'2026-11-29 20:52:55.633490','ada','intake','');
INSERT INTO "entry" VALUES(44,4,44,'2026-11-29 20:52:55.633570','ada','found_damage','');
INSERT INTO "entry" VALUES(45,4,45,'2026-11-29 20:52:55.633584','ada','check_made','');
INSERT INTO "entry" VALUES(46,4,43,'2026-11-29 20:52:55.645820','ada','intake','the battery was looked at');
INSERT INTO "entry" VALUES(47,4,47,'2026-11-29 20:52:55.656535','ada','payment','');
INSERT INTO "entry" VALUES(48,4,48,'2026-11-29 20:52:55.656572','ada','moved','');
INSERT INTO "entry" VALUES(49,4,49,'2026-11-29 20:52:55.667640','ada','moved','');
INSERT INTO "entry" VALUES(50,4,50,'2026-11-29 20:52:55.678660','ada','attempt','');
INSERT INTO "entry" VALUES(51,4,51,'2026-11-29 20:52:55.691207','ada','line_checked','');
INSERT INTO "entry" VALUES(52,4,52,'2026-11-29 20:52:55.702677','ada','line_checked','');
INSERT INTO "entry" VALUES(53,4,53,'2026-11-29 20:52:55.714161','ada','line_checked','');
INSERT INTO "entry" VALUES(54,4,54,'2026-11-29 20:52:55.725622','ada','line_checked','');
INSERT INTO "entry" VALUES(55,4,55,'2026-11-29 20:52:55.738236','ada','line_checked','');
INSERT INTO "entry" VALUES(56,4,56,'2026-11-29 20:52:55.750200','ada','line_checked','');
INSERT INTO "entry" VALUES(57,4,57,'2026-11-29 20:52:55.764171','ada','line_checked','');
INSERT INTO "entry" VALUES(58,4,58,'2026-11-29 20:52:55.777011','ada','line_checked','');
INSERT INTO "entry" VALUES(59,4,59,'2026-11-29 20:52:55.788266','ada','line_checked','');
INSERT INTO "entry" VALUES(60,4,60,'2026-11-29 20:52:55.799557','ada','line_checked','');
INSERT INTO "entry" VALUES(61,4,61,'2026-11-29 20:52:55.811626','ada','moved','');
INSERT INTO "entry" VALUES(62,4,62,'2026-11-29 20:52:55.823344','ada','moved','');
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
);
INSERT INTO "found_damage" VALUES(2,'port-pins-damaged',2,'',1.0,'intake','');
INSERT INTO "found_damage" VALUES(31,'display-panel-dead',2,'',1.0,'intake','');
INSERT INTO "found_damage" VALUES(32,'cell-swollen',2,'',0.5,'intake','');
INSERT INTO "found_damage" VALUES(37,'cell-bent',2,'',1.0,'intake','');
INSERT INTO "found_damage" VALUES(40,'liquid-on-board',2,'',1.0,'intake','');
INSERT INTO "found_damage" VALUES(44,'port-pins-damaged',2,'',1.0,'intake','');
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
);
INSERT INTO "hand_over" VALUES(25,'2026-11-25','working','',90,'Cy Vane','reset, set-up screen shown');
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
);
INSERT INTO "intake" VALUES(1,'2026-11-25','
[device]
name = "black phone from the ferry"
tier = "middle"
model = "K2"
data_wanted = false

[ownership]
lock = "clear"
proof_recorded = true

[[finding]]
kind = "port-pins-damaged"
severity = 2

[[check]]
check = "six-face-look"
found = true
','black phone from the ferry','middle','K2','','',NULL,NULL,'','','','','not-asked','not-known',0,'','2026-12-01','','');
INSERT INTO "intake" VALUES(4,'2026-11-25','
[device]
name = "black phone from the ferry"
tier = "middle"
model = "K2"
data_wanted = false

[ownership]
lock = "clear"
proof_recorded = true

[[finding]]
kind = "port-pins-damaged"
severity = 2

[[check]]
check = "six-face-look"
found = true
','black phone from the ferry','middle','K2','','',NULL,NULL,'','','','','not-asked','not-known',1,'','2026-12-01','','');
INSERT INTO "intake" VALUES(30,'2026-11-25','[device]
name = "tin with a bulge"
tier = "upper"
battery = "suspect"
[ownership]
lock = "clear"
proof_recorded = true
[[finding]]
kind = "display-panel-dead"
[[finding]]
kind = "cell-swollen"
chance = 0.5
','tin with a bulge','upper','','','',NULL,NULL,'','','','','not-asked','not-known',0,'',NULL,'','');
INSERT INTO "intake" VALUES(33,'2026-11-25','[device]
name = "tin with a bulge"
tier = "upper"
battery = "suspect"
[ownership]
lock = "clear"
proof_recorded = true
[[finding]]
kind = "display-panel-dead"
[[finding]]
kind = "cell-swollen"
chance = 0.5
','tin with a bulge','upper','','','',NULL,NULL,'','','','','not-asked','not-known',1,'',NULL,'','');
INSERT INTO "intake" VALUES(39,'2026-11-25','[device]
name = "from the laundry"
tier = "middle"
cause = "washed"
[ownership]
proof_recorded = true
[[finding]]
kind = "liquid-on-board"
','from the laundry','middle','','washed','',NULL,NULL,'Bo Marsh','','','','wanted','not-known',0,'',NULL,'','');
INSERT INTO "intake" VALUES(42,'2026-11-25','[device]
name = "from the laundry"
tier = "middle"
cause = "washed"
[ownership]
proof_recorded = true
[[finding]]
kind = "liquid-on-board"
','from the laundry','middle','','washed','',NULL,NULL,'Bo Marsh','','','','wanted','not-known',1,'',NULL,'','');
INSERT INTO "intake" VALUES(43,'2026-11-25','
[device]
name = "black phone from the ferry"
tier = "middle"
model = "K2"
data_wanted = false

[ownership]
lock = "clear"
proof_recorded = true

[[finding]]
kind = "port-pins-damaged"
severity = 2

[[check]]
check = "six-face-look"
found = true
','black phone from the ferry','middle','K2','','',NULL,NULL,'','','','','not-asked','not-known',0,'',NULL,'','');
INSERT INTO "intake" VALUES(46,'2026-11-25','
[device]
name = "black phone from the ferry"
tier = "middle"
model = "K2"
data_wanted = false

[ownership]
lock = "clear"
proof_recorded = true

[[finding]]
kind = "port-pins-damaged"
severity = 2

[[check]]
check = "six-face-look"
found = true
','black phone from the ferry','middle','K2','','',NULL,NULL,'','','','','not-asked','not-known',1,'',NULL,'','');
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
);
INSERT INTO "job" VALUES(1,'J-0001','bought','EUR','2026-11-29 20:52:55.254261',NULL,23);
INSERT INTO "job" VALUES(2,'J-0002','bought','EUR','2026-11-29 20:52:55.562319',NULL,5);
INSERT INTO "job" VALUES(3,'J-0003','walk-in','EUR','2026-11-29 20:52:55.614206',NULL,2);
INSERT INTO "job" VALUES(4,'J-0004','bought','EUR','2026-11-29 20:52:55.633218',NULL,17);
CREATE TABLE later_fate (
  entry_id INTEGER NOT NULL,
  margin_minor BIGINT NOT NULL,
  source TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
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
);
INSERT INTO "line_checked" VALUES(13,'solder-look','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(14,'hardware-complete','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(15,'seal-look','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(16,'fast-charge-step','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(17,'wipe-proof','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(18,'identity-numbers','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(19,'cosmetic-grade','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(20,'stock-and-tax-record','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(21,'surface-temperature','pass',31.5,'°C',1,0,'');
INSERT INTO "line_checked" VALUES(22,'attended-charge','pass',1.4,'A',1,0,'');
INSERT INTO "line_checked" VALUES(51,'solder-look','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(52,'hardware-complete','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(53,'seal-look','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(54,'fast-charge-step','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(55,'wipe-proof','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(56,'identity-numbers','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(57,'cosmetic-grade','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(58,'stock-and-tax-record','pass',NULL,'',1,0,'');
INSERT INTO "line_checked" VALUES(59,'surface-temperature','pass',31.5,'°C',1,0,'');
INSERT INTO "line_checked" VALUES(60,'attended-charge','pass',1.4,'A',1,0,'');
CREATE TABLE looked_inside (
  entry_id INTEGER NOT NULL,
  found TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
CREATE TABLE migration (
  number INTEGER NOT NULL,
  name TEXT NOT NULL,
  applied_at DATETIME NOT NULL,
  program TEXT NOT NULL,
  PRIMARY KEY (number)
);
INSERT INTO "migration" VALUES(1,'first','2026-11-29 20:52:55.244242','0.1.0');
CREATE TABLE moved (
  entry_id INTEGER NOT NULL,
  move TEXT NOT NULL CHECK ("move" IN ('decline', 'reconsider', 'take', 'start', 'wait', 'resume', 'verify', 'reopen', 'make-ready', 'sell', 'return-fixed', 'return-unfixed', 'strip', 'dispose', 'leave-uncollected', 'come-back', 'rework', 'take-back', 'send-back')),
  state TEXT NOT NULL CHECK ("state" IN ('considered', 'declined', 'taken', 'in-work', 'waiting', 'verified', 'ready', 'sold', 'returned-fixed', 'returned-unfixed', 'stripped', 'disposed', 'uncollected', 'came-back')),
  "on" DATE NOT NULL,
  wait_for TEXT CHECK ("wait_for" IN ('part', 'owner-answer', 'payment', 'tool')),
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
INSERT INTO "moved" VALUES(7,'take','taken','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(11,'start','in-work','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(23,'verify','verified','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(24,'make-ready','ready','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(27,'sell','sold','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(29,'come-back','came-back','2027-01-10',NULL,'');
INSERT INTO "moved" VALUES(35,'take','taken','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(36,'start','in-work','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(48,'take','taken','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(49,'start','in-work','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(61,'verify','verified','2026-11-25',NULL,'');
INSERT INTO "moved" VALUES(62,'make-ready','ready','2026-11-25',NULL,'');
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
);
INSERT INTO "part_fate" VALUES(10,9,'2026-11-25','arrived',0,'');
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
);
INSERT INTO "part_ordered" VALUES(9,'charge-port','the usual source',900,180,'',NULL,NULL,NULL);
CREATE TABLE passcode (
  job_id INTEGER NOT NULL,
  code TEXT NOT NULL,
  kept_at DATETIME NOT NULL,
  PRIMARY KEY (job_id),
  FOREIGN KEY(job_id) REFERENCES job (id)
);
CREATE TABLE payment (
  entry_id INTEGER NOT NULL,
  purpose TEXT NOT NULL CHECK ("purpose" IN ('purchase', 'deposit', 'diagnostic-fee', 'repair', 'sale', 'refund', 'fee', 'other')),
  amount_minor BIGINT NOT NULL,
  "on" DATE NOT NULL,
  note TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
INSERT INTO "payment" VALUES(6,'purchase',-4000,'2026-11-25','');
INSERT INTO "payment" VALUES(26,'sale',15000,'2026-11-25','');
INSERT INTO "payment" VALUES(34,'purchase',-2000,'2026-11-25','');
INSERT INTO "payment" VALUES(47,'purchase',-4000,'2026-11-25','');
CREATE TABLE photo (
  entry_id INTEGER NOT NULL,
  path TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  caption TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
CREATE TABLE place (
  entry_id INTEGER NOT NULL,
  "where" TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
INSERT INTO "place" VALUES(8,'shelf 2');
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
);
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
);
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
);
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
);
CREATE TABLE stop (
  entry_id INTEGER NOT NULL,
  reason TEXT NOT NULL,
  about TEXT NOT NULL CHECK ("about" IN ('ownership', 'battery', 'data', 'money', 'other')),
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id)
);
INSERT INTO "stop" VALUES(38,'the battery is dangerous: make it safe and keep it apart','battery');
INSERT INTO "stop" VALUES(41,'data are wanted and not backed up: no heat on the board before','data');
CREATE TABLE stop_resolved (
  entry_id INTEGER NOT NULL,
  stop INTEGER NOT NULL,
  how TEXT NOT NULL,
  PRIMARY KEY (entry_id),
  FOREIGN KEY(entry_id) REFERENCES entry (id),
  FOREIGN KEY(stop) REFERENCES entry (id)
);
CREATE INDEX ix_entry_job_id ON entry (job_id);
CREATE INDEX ix_entry_root ON entry (root);
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER moved_no_update BEFORE UPDATE ON moved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER moved_no_delete BEFORE DELETE ON moved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER intake_no_update BEFORE UPDATE ON intake BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER intake_no_delete BEFORE DELETE ON intake BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER found_damage_no_update BEFORE UPDATE ON found_damage BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER found_damage_no_delete BEFORE DELETE ON found_damage BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER check_made_no_update BEFORE UPDATE ON check_made BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER check_made_no_delete BEFORE DELETE ON check_made BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER looked_inside_no_update BEFORE UPDATE ON looked_inside BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER looked_inside_no_delete BEFORE DELETE ON looked_inside BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER stop_no_update BEFORE UPDATE ON stop BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER stop_no_delete BEFORE DELETE ON stop BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER stop_resolved_no_update BEFORE UPDATE ON stop_resolved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER stop_resolved_no_delete BEFORE DELETE ON stop_resolved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER place_no_update BEFORE UPDATE ON place BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER place_no_delete BEFORE DELETE ON place BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER photo_no_update BEFORE UPDATE ON photo BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER photo_no_delete BEFORE DELETE ON photo BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER decision_no_update BEFORE UPDATE ON decision BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER decision_no_delete BEFORE DELETE ON decision BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER quote_given_no_update BEFORE UPDATE ON quote_given BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER quote_given_no_delete BEFORE DELETE ON quote_given BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER answer_no_update BEFORE UPDATE ON answer BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER answer_no_delete BEFORE DELETE ON answer BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER attempt_no_update BEFORE UPDATE ON attempt BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER attempt_no_delete BEFORE DELETE ON attempt BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER line_checked_no_update BEFORE UPDATE ON line_checked BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER line_checked_no_delete BEFORE DELETE ON line_checked BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER part_ordered_no_update BEFORE UPDATE ON part_ordered BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER part_ordered_no_delete BEFORE DELETE ON part_ordered BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER part_fate_no_update BEFORE UPDATE ON part_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER part_fate_no_delete BEFORE DELETE ON part_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER payment_no_update BEFORE UPDATE ON payment BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER payment_no_delete BEFORE DELETE ON payment BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER hand_over_no_update BEFORE UPDATE ON hand_over BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER hand_over_no_delete BEFORE DELETE ON hand_over BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER comeback_no_update BEFORE UPDATE ON comeback BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER comeback_no_delete BEFORE DELETE ON comeback BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER later_fate_no_update BEFORE UPDATE ON later_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER later_fate_no_delete BEFORE DELETE ON later_fate BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER price_found_no_update BEFORE UPDATE ON price_found BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER price_found_no_delete BEFORE DELETE ON price_found BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER shelf_part_no_update BEFORE UPDATE ON shelf_part BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER shelf_part_no_delete BEFORE DELETE ON shelf_part BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER shelf_moved_no_update BEFORE UPDATE ON shelf_moved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER shelf_moved_no_delete BEFORE DELETE ON shelf_moved BEGIN
  SELECT RAISE(ABORT, 'a record is corrected by a new one, never changed');
END;
CREATE TRIGGER job_no_update BEFORE UPDATE OF id, label, route, currency, opened, import_key ON job BEGIN
  SELECT RAISE(ABORT, 'a job is never renamed');
END;
CREATE TRIGGER job_no_delete BEFORE DELETE ON job BEGIN
  SELECT RAISE(ABORT, 'a job is never deleted');
END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('job',4);
COMMIT;
