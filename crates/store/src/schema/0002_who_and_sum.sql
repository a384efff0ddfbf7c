-- Who made a revision, the typed edit it came from, and a sum of the document to see damage by
-- (XXH3-64 of the document's JSON with sorted keys, as a signed number; absent in older revisions).
ALTER TABLE revision ADD COLUMN by_whom TEXT NOT NULL DEFAULT '';
ALTER TABLE revision ADD COLUMN edit TEXT;
ALTER TABLE revision ADD COLUMN sum INTEGER;

-- When the head was last moved.
ALTER TABLE head ADD COLUMN moved_ms INTEGER NOT NULL DEFAULT 0;
UPDATE head SET moved_ms = (SELECT at_ms FROM revision WHERE id = head.revision);

-- What was once kept stays as it is.
CREATE TRIGGER revision_is_not_changed BEFORE UPDATE ON revision
BEGIN
    SELECT raise(ABORT, 'a revision is never changed');
END;

CREATE TRIGGER revision_is_not_deleted BEFORE DELETE ON revision
BEGIN
    SELECT raise(ABORT, 'a revision is never deleted');
END;
