-- Ids come from AUTOINCREMENT tables, so that none is ever given twice.
CREATE TABLE batches (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    given_ms INTEGER NOT NULL
);

CREATE TABLE groups (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    recorded_ms INTEGER NOT NULL
);

CREATE TABLE entries (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    group_id INTEGER NOT NULL REFERENCES groups (id),
    batch INTEGER NOT NULL REFERENCES batches (id),
    kind TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    recorded_ms INTEGER NOT NULL,
    by TEXT NOT NULL,
    data TEXT NOT NULL
);
CREATE INDEX entries_by_batch ON entries (batch);

CREATE TABLE alarms (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL,
    subject TEXT NOT NULL,
    priority TEXT NOT NULL,
    state TEXT NOT NULL,
    place TEXT,
    sensor TEXT,
    quantity TEXT,
    batches TEXT NOT NULL,
    began_ms INTEGER NOT NULL,
    raised_ms INTEGER NOT NULL,
    returned_ms INTEGER,
    acknowledged_ms INTEGER,
    acknowledged_by TEXT,
    value REAL,
    "limit" REAL,
    peak REAL,
    title TEXT NOT NULL,
    text TEXT NOT NULL,
    facts TEXT NOT NULL
);
CREATE UNIQUE INDEX one_open_alarm_a_key ON alarms (kind, subject) WHERE state <> 'normal';

CREATE TABLE audit (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    alarm INTEGER NOT NULL REFERENCES alarms (id),
    at_ms INTEGER NOT NULL,
    by TEXT NOT NULL,
    before TEXT NOT NULL,
    after TEXT NOT NULL,
    value REAL,
    "limit" REAL,
    note TEXT NOT NULL
);
CREATE INDEX audit_by_alarm ON audit (alarm);

CREATE TABLE outbox (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    alarm INTEGER REFERENCES alarms (id),
    kind TEXT NOT NULL,
    person TEXT NOT NULL,
    address TEXT NOT NULL,
    title TEXT NOT NULL,
    body TEXT NOT NULL,
    created_ms INTEGER NOT NULL,
    due_ms INTEGER NOT NULL,
    status TEXT NOT NULL,
    attempts INTEGER NOT NULL,
    sent_ms INTEGER,
    last_error TEXT NOT NULL,
    priority TEXT NOT NULL
);
CREATE INDEX outbox_waiting ON outbox (due_ms) WHERE status = 'waiting';
CREATE INDEX outbox_by_alarm ON outbox (alarm);

-- Each change of an outbox row leaves a line here.
CREATE TABLE attempts (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    notice INTEGER NOT NULL REFERENCES outbox (id),
    at_ms INTEGER NOT NULL,
    status TEXT NOT NULL,
    error TEXT NOT NULL
);
CREATE INDEX attempts_by_notice ON attempts (notice);

CREATE TABLE configurations (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    at_ms INTEGER NOT NULL,
    by TEXT NOT NULL,
    digest TEXT NOT NULL,
    texts TEXT NOT NULL
);

CREATE TABLE state (
    key TEXT PRIMARY KEY,
    value TEXT NOT NULL
) WITHOUT ROWID;

-- What is written once stays: no change, no removal.
CREATE TRIGGER entries_stay BEFORE UPDATE ON entries
BEGIN SELECT raise(ABORT, 'entries are append-only: undo with a new entry'); END;
CREATE TRIGGER entries_remain BEFORE DELETE ON entries
BEGIN SELECT raise(ABORT, 'entries are append-only: undo with a new entry'); END;
CREATE TRIGGER audit_stays BEFORE UPDATE ON audit
BEGIN SELECT raise(ABORT, 'audit lines are append-only'); END;
CREATE TRIGGER audit_remains BEFORE DELETE ON audit
BEGIN SELECT raise(ABORT, 'audit lines are append-only'); END;
CREATE TRIGGER attempts_stay BEFORE UPDATE ON attempts
BEGIN SELECT raise(ABORT, 'attempts are append-only'); END;
CREATE TRIGGER attempts_remain BEFORE DELETE ON attempts
BEGIN SELECT raise(ABORT, 'attempts are append-only'); END;
CREATE TRIGGER configurations_stay BEFORE UPDATE ON configurations
BEGIN SELECT raise(ABORT, 'accepted configurations are append-only'); END;
CREATE TRIGGER configurations_remain BEFORE DELETE ON configurations
BEGIN SELECT raise(ABORT, 'accepted configurations are append-only'); END;
CREATE TRIGGER batches_stay BEFORE UPDATE ON batches
BEGIN SELECT raise(ABORT, 'batch ids are append-only'); END;
CREATE TRIGGER batches_remain BEFORE DELETE ON batches
BEGIN SELECT raise(ABORT, 'batch ids are append-only'); END;
CREATE TRIGGER groups_stay BEFORE UPDATE ON groups
BEGIN SELECT raise(ABORT, 'groups are append-only'); END;
CREATE TRIGGER groups_remain BEFORE DELETE ON groups
BEGIN SELECT raise(ABORT, 'groups are append-only'); END;
CREATE TRIGGER alarms_remain BEFORE DELETE ON alarms
BEGIN SELECT raise(ABORT, 'an alarm may change but not vanish'); END;
CREATE TRIGGER outbox_remains BEFORE DELETE ON outbox
BEGIN SELECT raise(ABORT, 'a notice may change but not vanish'); END;
