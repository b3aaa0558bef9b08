-- What an alarm is beneath a state that keeps quiet, until when, and why.
ALTER TABLE alarms ADD COLUMN active INTEGER NOT NULL DEFAULT 1;
ALTER TABLE alarms ADD COLUMN until_ms INTEGER;
ALTER TABLE alarms ADD COLUMN why TEXT NOT NULL DEFAULT '';
ALTER TABLE alarms ADD COLUMN once INTEGER NOT NULL DEFAULT 0;
ALTER TABLE alarms ADD COLUMN answer TEXT;
UPDATE alarms SET active = 0 WHERE returned_ms IS NOT NULL;

-- One-tap links: made as a notice is sent; the token itself is never kept.
CREATE TABLE links (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    token_hash TEXT NOT NULL UNIQUE,
    alarm INTEGER NOT NULL REFERENCES alarms (id),
    notice INTEGER REFERENCES outbox (id),
    person TEXT NOT NULL,
    action TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    expires_ms INTEGER NOT NULL,
    used_ms INTEGER
);
CREATE INDEX links_by_alarm ON links (alarm);

-- Who is on duty from when: the newest line that covers a time counts.
CREATE TABLE duty (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    from_ms INTEGER NOT NULL,
    until_ms INTEGER NOT NULL,
    person TEXT NOT NULL,
    recorded_ms INTEGER NOT NULL,
    by TEXT NOT NULL
);

-- Was an alarm real, or needless? The newest line of an alarm counts.
CREATE TABLE scores (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    alarm INTEGER NOT NULL REFERENCES alarms (id),
    needless INTEGER NOT NULL,
    recorded_ms INTEGER NOT NULL,
    by TEXT NOT NULL
);
CREATE INDEX scores_by_alarm ON scores (alarm);

CREATE TRIGGER duty_stays BEFORE UPDATE ON duty
BEGIN SELECT raise(ABORT, 'duty lines are append-only'); END;
CREATE TRIGGER duty_remains BEFORE DELETE ON duty
BEGIN SELECT raise(ABORT, 'duty lines are append-only'); END;
CREATE TRIGGER scores_stay BEFORE UPDATE ON scores
BEGIN SELECT raise(ABORT, 'scores are append-only'); END;
CREATE TRIGGER scores_remain BEFORE DELETE ON scores
BEGIN SELECT raise(ABORT, 'scores are append-only'); END;
