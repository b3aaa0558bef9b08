-- How far the copy elsewhere has come: the time of the last reading it has, per channel.
CREATE TABLE cursors (
    sensor TEXT NOT NULL,
    quantity TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    PRIMARY KEY (sensor, quantity)
) WITHOUT ROWID;

-- Which file and which place to copy to the cursors belong to; spans of late rows done.
CREATE TABLE position (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    token TEXT NOT NULL,
    target TEXT NOT NULL,
    late INTEGER NOT NULL,
    late_at_ms INTEGER NOT NULL,
    epoch INTEGER NOT NULL
);
INSERT INTO position VALUES (1, '', '', 0, 0, 0);

-- What came of it, for whoever asks.
CREATE TABLE outcome (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    sent INTEGER NOT NULL,
    refused INTEGER NOT NULL,
    sent_ms INTEGER,
    failing_since_ms INTEGER,
    error TEXT NOT NULL
);
INSERT INTO outcome VALUES (1, 0, 0, NULL, NULL, '');

-- Readings that were refused one by one, with the reason (bounded).
CREATE TABLE refused (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    sensor TEXT NOT NULL,
    quantity TEXT NOT NULL,
    at_ms INTEGER NOT NULL,
    raw REAL NOT NULL,
    reason TEXT NOT NULL,
    refused_ms INTEGER NOT NULL
);
