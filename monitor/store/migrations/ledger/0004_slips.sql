-- An entry that is sent twice is known again by the token that it was written down with.
ALTER TABLE groups ADD COLUMN token TEXT;
ALTER TABLE groups ADD COLUMN digest TEXT;
CREATE UNIQUE INDEX one_group_a_token ON groups (token);
