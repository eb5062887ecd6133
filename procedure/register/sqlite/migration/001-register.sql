-- What is kept: the records themselves. Never deleted.
CREATE TABLE record (
	key   INTEGER PRIMARY KEY,
	id    TEXT NOT NULL,
	home  TEXT NOT NULL,
	bytes BLOB NOT NULL,
	size  INTEGER NOT NULL,
	head  TEXT NOT NULL,
	sum   TEXT NOT NULL,
	state TEXT NOT NULL,
	label TEXT NOT NULL,
	path  TEXT NOT NULL,
	added INTEGER NOT NULL,
	fault TEXT NOT NULL
) STRICT;
CREATE INDEX record_id ON record (id);
CREATE INDEX record_sum ON record (sum);

-- What homes are judged by, as one JSON value under "in-force".
CREATE TABLE setting (
	name  TEXT PRIMARY KEY,
	value TEXT NOT NULL
) STRICT;

-- The index, made from the records.
CREATE TABLE plan (
	sum  TEXT PRIMARY KEY,
	data BLOB NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE snapshot (
	key  INTEGER PRIMARY KEY,
	form TEXT NOT NULL,
	plan TEXT NOT NULL,
	data BLOB NOT NULL
) STRICT;
CREATE TABLE entry (
	key      INTEGER PRIMARY KEY,
	id       TEXT NOT NULL,
	home     TEXT NOT NULL,
	label    TEXT NOT NULL,
	crew     TEXT NOT NULL,
	scheme   TEXT NOT NULL,
	phase    TEXT NOT NULL,
	day      INTEGER NOT NULL,
	urgency  INTEGER NOT NULL,
	print    TEXT NOT NULL,
	body     TEXT NOT NULL
) STRICT;
-- Each index gives the order of the queue and has all that filters ask, so
-- that no row is read that is not shown.
CREATE INDEX entry_queue  ON entry (urgency, day, key);
CREATE INDEX entry_crew ON entry (crew, urgency, day, key, label, scheme, phase);
CREATE INDEX entry_label ON entry (label, urgency, day, key, crew, scheme, phase);
CREATE INDEX entry_scheme ON entry (scheme, urgency, day, key, crew, label, phase);
CREATE INDEX entry_phase ON entry (phase, urgency, day, key, crew, label, scheme);
CREATE INDEX entry_home   ON entry (home);
CREATE INDEX entry_id     ON entry (id);
CREATE INDEX entry_print  ON entry (print) WHERE print <> '';
CREATE TABLE reason (
	code    TEXT NOT NULL,
	urgency INTEGER NOT NULL,
	day     INTEGER NOT NULL,
	key     INTEGER NOT NULL,
	crew    TEXT NOT NULL,
	label   TEXT NOT NULL,
	scheme  TEXT NOT NULL,
	phase   TEXT NOT NULL,
	PRIMARY KEY (code, urgency, day, key)
) STRICT, WITHOUT ROWID;
CREATE INDEX reason_key ON reason (key);
CREATE TABLE appliance (
	kind    TEXT NOT NULL,
	urgency INTEGER NOT NULL,
	day     INTEGER NOT NULL,
	key     INTEGER NOT NULL,
	crew    TEXT NOT NULL,
	label   TEXT NOT NULL,
	scheme  TEXT NOT NULL,
	phase   TEXT NOT NULL,
	PRIMARY KEY (kind, urgency, day, key)
) STRICT, WITHOUT ROWID;
CREATE INDEX appliance_key ON appliance (key);
