-- Every revision of the document, as a patch (RFC 6902) against its parent or as a full copy.
CREATE TABLE revision (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    parent   INTEGER REFERENCES revision (id),
    at_ms    INTEGER NOT NULL,
    what     TEXT NOT NULL,
    patch    TEXT,
    document TEXT,
    CHECK ((patch IS NULL) <> (document IS NULL)),
    CHECK (parent < id),
    CHECK (parent IS NOT NULL OR document IS NOT NULL)
) STRICT;

CREATE INDEX revision_by_parent ON revision (parent);

-- Which revision the document stands on.
CREATE TABLE head (
    one      INTEGER PRIMARY KEY CHECK (one = 1),
    revision INTEGER NOT NULL REFERENCES revision (id)
) STRICT;
