-- Channels are given small numbers: they stand in every key.
CREATE TABLE channels (
    id INTEGER PRIMARY KEY,
    sensor TEXT NOT NULL,
    quantity TEXT NOT NULL,
    -- the reading with the newest time, so that no page has to look for it
    at_ms INTEGER,
    raw,
    flags INTEGER,
    received_ms INTEGER,
    UNIQUE (sensor, quantity)
);

-- raw: a REAL is the value itself; an INTEGER is a decimal in short form (coding.py).
CREATE TABLE readings (
    channel INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    raw NOT NULL,
    flags INTEGER NOT NULL,
    PRIMARY KEY (channel, at_ms)
) WITHOUT ROWID;

-- Summaries: bucket counts hours (or 8 hours) since 1970 UTC; total is in millionths.
CREATE TABLE hourly (
    channel INTEGER NOT NULL,
    bucket INTEGER NOT NULL,
    n INTEGER NOT NULL,
    suspect INTEGER NOT NULL,
    total INTEGER NOT NULL,
    low REAL NOT NULL,
    high REAL NOT NULL,
    PRIMARY KEY (channel, bucket)
) WITHOUT ROWID;

CREATE TABLE eight_hourly (
    channel INTEGER NOT NULL,
    bucket INTEGER NOT NULL,
    n INTEGER NOT NULL,
    suspect INTEGER NOT NULL,
    total INTEGER NOT NULL,
    low REAL NOT NULL,
    high REAL NOT NULL,
    PRIMARY KEY (channel, bucket)
) WITHOUT ROWID;

-- One sample time, two values: the first stands in readings, the other here (bounded).
CREATE TABLE conflicts (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    channel INTEGER NOT NULL,
    at_ms INTEGER NOT NULL,
    kept REAL NOT NULL,
    refused REAL NOT NULL,
    received_ms INTEGER NOT NULL
);

-- What the broker may send again: one row a commit, pairs packed (window.py).
CREATE TABLE recent_messages (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    pairs BLOB NOT NULL
);

CREATE TABLE heard (
    sensor TEXT PRIMARY KEY,
    received_ms INTEGER NOT NULL
) WITHOUT ROWID;

CREATE TABLE refusals (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    received_ms INTEGER NOT NULL,
    topic TEXT NOT NULL,
    sensor TEXT,
    quantity TEXT,
    reason TEXT NOT NULL,
    detail TEXT NOT NULL,
    payload BLOB NOT NULL
);

CREATE TABLE refusal_counts (
    sensor TEXT NOT NULL,
    reason TEXT NOT NULL,
    n INTEGER NOT NULL,
    last_ms INTEGER NOT NULL,
    PRIMARY KEY (sensor, reason)
) WITHOUT ROWID;

CREATE TABLE unclaimed (
    topic TEXT PRIMARY KEY,
    first_ms INTEGER NOT NULL,
    last_ms INTEGER NOT NULL,
    n INTEGER NOT NULL,
    sample BLOB NOT NULL,
    guess TEXT NOT NULL
) WITHOUT ROWID;

-- Spans in which readings were heard but could not be kept.
CREATE TABLE gaps (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    from_ms INTEGER NOT NULL,
    to_ms INTEGER NOT NULL,
    why TEXT NOT NULL,
    n INTEGER NOT NULL
);
