-- A night drill's link belongs to no alarm. A table's columns cannot be loosened: it is made anew.
CREATE TABLE links_anew (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    token_hash TEXT NOT NULL UNIQUE,
    alarm INTEGER REFERENCES alarms (id),
    notice INTEGER REFERENCES outbox (id),
    person TEXT NOT NULL,
    action TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    expires_ms INTEGER NOT NULL,
    used_ms INTEGER
);
INSERT INTO links_anew SELECT * FROM links;
DROP TABLE links;
ALTER TABLE links_anew RENAME TO links;
CREATE INDEX links_by_alarm ON links (alarm);
