-- How many entries are alike in all that filters ask but the day itself: of
-- days, spans of 28 count. Code and kind are '' for all entries. Band is 0 for
-- what waits, 1 for what waits of invented houses, 2 and 3 for the accepted.
CREATE TABLE tally (
	code   TEXT NOT NULL,
	kind   TEXT NOT NULL,
	span   INTEGER NOT NULL,
	crew   TEXT NOT NULL,
	label  TEXT NOT NULL,
	scheme TEXT NOT NULL,
	phase  TEXT NOT NULL,
	band   INTEGER NOT NULL,
	n      INTEGER NOT NULL,
	PRIMARY KEY (code, kind, span, crew, label, scheme, phase, band)
) STRICT, WITHOUT ROWID;
INSERT INTO tally (code, kind, span, crew, label, scheme, phase, band, n)
	SELECT r.code, a.kind, e.day / 28, e.crew, e.label, e.scheme, e.phase,
		CASE WHEN e.urgency < 1000000 THEN 0 WHEN e.urgency < 10000000 THEN 1 WHEN e.urgency < 11000000 THEN 2 ELSE 3 END, count(*)
	FROM entry e
	JOIN (SELECT key, code FROM reason UNION ALL SELECT key, '' FROM entry) r ON r.key = e.key
	JOIN (SELECT key, kind FROM appliance UNION ALL SELECT key, '' FROM entry) a ON a.key = e.key
	GROUP BY 1, 2, 3, 4, 5, 6, 7, 8;
-- For the days at the ends of a filter that are no whole span.
CREATE INDEX entry_day ON entry (day, urgency, crew, label, scheme, phase);
CREATE INDEX reason_day ON reason (code, day, urgency, crew, label, scheme, phase);
CREATE INDEX appliance_day ON appliance (kind, day, urgency, crew, label, scheme, phase);
