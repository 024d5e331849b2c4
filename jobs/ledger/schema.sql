-- One row a plan or a print run; everything else hangs on it. Money, metres
-- and shares are text, so that no digit is lost; times are UTC, ISO 8601.
CREATE TABLE entry (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  at         TEXT NOT NULL,
  kind       TEXT NOT NULL CHECK (kind IN ('planned', 'printed')),
  key        TEXT UNIQUE,
  corrects   INTEGER REFERENCES entry (id),
  program    TEXT NOT NULL,
  inputs     TEXT NOT NULL,
  plan       TEXT NOT NULL,
  rest_of    TEXT NOT NULL,
  gang       TEXT NOT NULL,
  die        TEXT NOT NULL,
  stock      TEXT NOT NULL,
  press      TEXT NOT NULL,
  currency   TEXT NOT NULL,
  cost       TEXT,
  bound      TEXT,
  gap        TEXT,
  proven     INTEGER NOT NULL CHECK (proven IN (0, 1)),
  stop       TEXT NOT NULL,
  alone      TEXT,
  saving     TEXT,
  row_count  INTEGER NOT NULL,
  sections   INTEGER NOT NULL,
  web_m      TEXT,
  minutes    TEXT
) STRICT;

CREATE TABLE entry_order (
  entry      INTEGER NOT NULL REFERENCES entry (id),
  place      INTEGER NOT NULL,
  id         TEXT NOT NULL,
  customer   TEXT NOT NULL,
  due        TEXT NOT NULL,
  alone      TEXT,
  share      TEXT,
  saving     TEXT,
  PRIMARY KEY (entry, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE entry_version (
  entry      INTEGER NOT NULL REFERENCES entry (id),
  place      INTEGER NOT NULL,
  order_id   TEXT NOT NULL,
  id         TEXT NOT NULL,
  name       TEXT NOT NULL,
  ordered    INTEGER NOT NULL,
  planned    INTEGER NOT NULL,
  good       INTEGER NOT NULL,
  spoiled    INTEGER NOT NULL,
  overs      INTEGER NOT NULL,
  unders     INTEGER NOT NULL,
  scrap      INTEGER NOT NULL,
  left_out   INTEGER NOT NULL CHECK (left_out IN (0, 1)),
  PRIMARY KEY (entry, place)
) STRICT, WITHOUT ROWID;

-- What ran on the press, section by section; of printed entries only.
CREATE TABLE entry_section (
  entry      INTEGER NOT NULL REFERENCES entry (id),
  number     INTEGER NOT NULL,
  planned    INTEGER NOT NULL,
  printed    INTEGER NOT NULL,
  PRIMARY KEY (entry, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE entry_spoiled (
  entry      INTEGER NOT NULL REFERENCES entry (id),
  place      INTEGER NOT NULL,
  section    INTEGER NOT NULL,
  lane       INTEGER NOT NULL,
  from_row   INTEGER NOT NULL,
  to_row     INTEGER NOT NULL,
  reason     TEXT NOT NULL,
  PRIMARY KEY (entry, place)
) STRICT, WITHOUT ROWID;

CREATE INDEX entry_at ON entry (at);
CREATE INDEX order_id ON entry_order (id);
CREATE INDEX order_customer ON entry_order (customer);
