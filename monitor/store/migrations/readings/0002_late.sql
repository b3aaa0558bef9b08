-- Spans of rows that were written behind their channel's newest (bounded): whoever follows a
-- channel by the time of its readings has passed them, and finds them here. See late.py.
CREATE TABLE late (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    channel INTEGER NOT NULL,
    from_ms INTEGER NOT NULL,
    to_ms INTEGER NOT NULL
);

-- Which file this is: one that was set aside and begun anew has another token.
CREATE TABLE identity (token TEXT NOT NULL);
INSERT INTO identity VALUES (lower(hex(randomblob(16))));
