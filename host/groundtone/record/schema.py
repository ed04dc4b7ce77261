"""The library's tables. A change of them is a new entry in MIGRATIONS, never a change of an old one.

Statements end with a semicolon, and there is no other semicolon in them.
"""

MIGRATIONS: tuple[str, ...] = (
    """
    CREATE TABLE golfers (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL UNIQUE,          -- code name, '' stands for nobody named
        hand TEXT NOT NULL CHECK (hand IN ('right', 'left')),
        mass_kg REAL,
        shoe_mm REAL,
        notes TEXT NOT NULL
    );
    CREATE TABLE lessons (
        id INTEGER PRIMARY KEY,
        golfer_id INTEGER NOT NULL REFERENCES golfers ON DELETE CASCADE,
        name TEXT NOT NULL,                 -- as told, or the day
        UNIQUE (golfer_id, name)
    );
    CREATE TABLE recordings (
        id INTEGER PRIMARY KEY,
        session TEXT NOT NULL UNIQUE,       -- the recording's own id
        lesson_id INTEGER NOT NULL REFERENCES lessons ON DELETE CASCADE,
        path TEXT NOT NULL,                 -- below the library's folder, with '/'
        sha256 TEXT NOT NULL,
        size INTEGER NOT NULL,
        started TEXT NOT NULL,              -- ISO 8601 with offset
        mat TEXT NOT NULL,                  -- unique id
        frames INTEGER NOT NULL,
        duration_s REAL NOT NULL,
        simulated INTEGER NOT NULL,
        doubts TEXT NOT NULL                -- JSON list of sentences
    );
    CREATE INDEX recordings_lesson ON recordings (lesson_id);
    CREATE TABLE blocks (
        id INTEGER PRIMARY KEY,
        recording_id INTEGER NOT NULL REFERENCES recordings ON DELETE CASCADE,
        number INTEGER NOT NULL,
        kind TEXT NOT NULL,
        club TEXT NOT NULL,
        lie TEXT NOT NULL,
        usual_m REAL,
        cues INTEGER NOT NULL,
        device_us INTEGER NOT NULL,
        UNIQUE (recording_id, number)
    );
    CREATE TABLE swings (
        id INTEGER PRIMARY KEY,
        block_id INTEGER NOT NULL REFERENCES blocks ON DELETE CASCADE,
        number INTEGER NOT NULL,            -- in the recording, from 1
        kind TEXT NOT NULL,
        impact_s REAL,                      -- device time
        events TEXT NOT NULL                -- JSON: event -> [time s, source, doubt s]
    );
    CREATE INDEX swings_block ON swings (block_id);
    CREATE TABLE measures (
        swing_id INTEGER NOT NULL REFERENCES swings ON DELETE CASCADE,
        name TEXT NOT NULL,
        value REAL,                         -- NULL: no meaning here
        uncertainty REAL,
        reason TEXT NOT NULL,               -- why there is no value, '' where there is one
        PRIMARY KEY (swing_id, name)
    ) WITHOUT ROWID;
    CREATE TABLE findings (
        swing_id INTEGER NOT NULL REFERENCES swings ON DELETE CASCADE,
        name TEXT NOT NULL,
        probability REAL,
        size REAL,
        detail TEXT NOT NULL,               -- JSON: all that the finding says
        PRIMARY KEY (swing_id, name)
    ) WITHOUT ROWID;
    CREATE TABLE strikes (
        recording_id INTEGER NOT NULL REFERENCES recordings ON DELETE CASCADE,
        entry TEXT NOT NULL,                -- id of the entry in the recording
        swing_id INTEGER REFERENCES swings ON DELETE CASCADE,
        detail TEXT NOT NULL,               -- JSON: the entry as it was told
        PRIMARY KEY (recording_id, entry)
    ) WITHOUT ROWID;
    CREATE INDEX strikes_swing ON strikes (swing_id);
    """,
    """
    CREATE TABLE feel (
        recording_id INTEGER NOT NULL REFERENCES recordings ON DELETE CASCADE,
        entry TEXT NOT NULL,                -- id of the entry in the recording
        number INTEGER NOT NULL,            -- in the recording, from 0
        detail TEXT NOT NULL,               -- JSON: what was asked and done, or guessed
        PRIMARY KEY (recording_id, entry)
    ) WITHOUT ROWID;
    """,
    """
    ALTER TABLE golfers ADD COLUMN due TEXT NOT NULL DEFAULT '';        -- day of the retention test, ISO 8601
    ALTER TABLE recordings ADD COLUMN bay TEXT NOT NULL DEFAULT '';     -- where it was made, '' where there is one
    ALTER TABLE recordings ADD COLUMN coach TEXT NOT NULL DEFAULT '';   -- who was signed on
    ALTER TABLE recordings ADD COLUMN version TEXT NOT NULL DEFAULT ''; -- of the program that measured it last
    CREATE TABLE former (
        recording_id INTEGER NOT NULL REFERENCES recordings ON DELETE CASCADE,
        swing INTEGER NOT NULL,             -- its number in the recording, from 1
        impact_s REAL,                      -- device time
        name TEXT NOT NULL,                 -- a measure
        value REAL,
        version TEXT NOT NULL,              -- of the program that had measured it
        PRIMARY KEY (recording_id, swing, name)
    ) WITHOUT ROWID;
    CREATE TABLE mats (
        uid TEXT PRIMARY KEY,
        bay TEXT NOT NULL,
        calibrated TEXT NOT NULL,           -- ISO 8601, '' for not yet
        checked TEXT NOT NULL,              -- when the last check was, ISO 8601, '' for never
        verdict TEXT NOT NULL               -- what it said
    );
    CREATE TABLE own_files (
        golfer_id INTEGER NOT NULL REFERENCES golfers ON DELETE CASCADE,
        kind TEXT NOT NULL,                 -- bands, plan
        text TEXT NOT NULL,                 -- the file as it is
        bay TEXT NOT NULL,                  -- which changed it last
        PRIMARY KEY (golfer_id, kind)
    ) WITHOUT ROWID;
    CREATE TABLE erased (
        id INTEGER PRIMARY KEY,
        who TEXT NOT NULL                   -- a salted digest: whoever knows the name can ask, nobody can read it
    );
    """,
    """
    ALTER TABLE erased ADD COLUMN golfer_id INTEGER REFERENCES golfers ON DELETE SET NULL;  -- renamed: who it is now
    """,
)
