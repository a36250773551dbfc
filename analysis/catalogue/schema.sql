-- The shelf, version 1. Times are UTC as RFC 3339 with milliseconds; names end
-- in their unit. Text from people is text and nothing else.

-- What the shelf as a whole is: one row.
CREATE TABLE shelf (
  one   INTEGER PRIMARY KEY CHECK (one = 1),
  demo  INTEGER NOT NULL CHECK (demo IN (0, 1))       -- 1: invented, to try things on; never anybody's own
) STRICT;
INSERT INTO shelf (one, demo) VALUES (1, 0);

-- A photo, re-encoded: always JPEG, upright, without metadata.
CREATE TABLE photo (
  hash    TEXT PRIMARY KEY CHECK (length(hash) = 64), -- SHA-256 of jpeg, hex
  jpeg    BLOB NOT NULL,
  width   INTEGER NOT NULL CHECK (width > 0),         -- pixels
  height  INTEGER NOT NULL CHECK (height > 0)
) STRICT;

CREATE TABLE object (
  id           TEXT PRIMARY KEY,             -- ULID
  name         TEXT NOT NULL CHECK (name <> ''),
  kind         TEXT NOT NULL,                -- bar, bell, glass, bottle, plate, drum, blown, unknown
  material     TEXT NOT NULL,
  length_mm    REAL, width_mm REAL, height_mm REAL, diameter_mm REAL, thickness_mm REAL,
  mass_g       REAL,
  kept_at      TEXT NOT NULL,                -- where it is
  found_at     TEXT NOT NULL,                -- where it came from
  found_on     TEXT NOT NULL,                -- YYYY, YYYY-MM, YYYY-MM-DD or empty
  notes        TEXT NOT NULL,
  photo        TEXT REFERENCES photo (hash),
  created      TEXT NOT NULL,
  changed      TEXT NOT NULL,
  put_away     TEXT                          -- when; NULL while it is on the shelf
) STRICT;
CREATE INDEX object_photo ON object (photo);

-- How an object was at each time it changed; the newest row is how it is.
CREATE TABLE state (
  object  TEXT NOT NULL REFERENCES object (id) ON DELETE CASCADE,
  n       INTEGER NOT NULL,                  -- 1, 2, 3 ... in the order told
  state   TEXT NOT NULL CHECK (state IN ('whole', 'suspect', 'cracked', 'broken', 'lent', 'lost')),
  since   TEXT NOT NULL,
  note    TEXT NOT NULL,
  PRIMARY KEY (object, n)
) STRICT, WITHOUT ROWID;

-- One way to sound an object.
CREATE TABLE voice (
  id         TEXT PRIMARY KEY,               -- ULID
  object     TEXT NOT NULL REFERENCES object (id) ON DELETE CASCADE,
  place      TEXT NOT NULL,                  -- where it is struck: rim, middle
  beater     TEXT NOT NULL,
  support    TEXT NOT NULL,                  -- foam, string, hand
  fill       TEXT NOT NULL,                  -- water, sand
  pinned_hz  REAL CHECK (pinned_hz > 0),     -- the partial a player hears it by; NULL: as heard
  created    TEXT NOT NULL,
  put_away   TEXT
) STRICT;
CREATE INDEX voice_object ON voice (object);

CREATE TABLE recording (
  hash   TEXT PRIMARY KEY CHECK (length(hash) = 64), -- SHA-256, hex: recordings/ab/HASH.wav
  bytes  INTEGER NOT NULL CHECK (bytes > 0),
  added  TEXT NOT NULL
) STRICT;

CREATE TABLE strike (
  id               TEXT PRIMARY KEY,         -- ULID, as the ear gave it
  voice            TEXT NOT NULL REFERENCES voice (id) ON DELETE CASCADE,
  time             TEXT NOT NULL,            -- of the onset
  recording        TEXT NOT NULL REFERENCES recording (hash),
  onset_frame      INTEGER NOT NULL CHECK (onset_frame >= 0), -- within the recording
  rate_hz          REAL NOT NULL CHECK (rate_hz > 0),
  source           TEXT NOT NULL,            -- what it was heard through
  input            TEXT NOT NULL,            -- the device's name
  room             TEXT NOT NULL,
  temperature_c    REAL,                     -- NULL: not known
  analysis         TEXT NOT NULL,            -- version of the ear that measured it
  used_s           REAL NOT NULL,            -- sound after the onset it rests on
  clock_ppm        REAL NOT NULL,            -- one sigma of the input's clock
  peak             REAL NOT NULL,            -- full scale 1
  heard_hz         REAL, heard_sigma_c REAL, heard_basis TEXT, heard_partial INTEGER, heard_likelihood REAL,
  second_hz        REAL, second_sigma_c REAL, second_basis TEXT, second_partial INTEGER, second_likelihood REAL,
  remarks          TEXT NOT NULL CHECK (json_valid(remarks)), -- [{"code":..., "words":...}]
  note             TEXT NOT NULL,
  put_away         TEXT
) STRICT;
CREATE INDEX strike_voice ON strike (voice, time);
CREATE INDEX strike_recording ON strike (recording);

CREATE TABLE partial (
  strike         TEXT NOT NULL REFERENCES strike (id) ON DELETE CASCADE,
  n              INTEGER NOT NULL,           -- 0, 1, 2 ... by frequency
  frequency_hz   REAL NOT NULL,
  sigma_c        REAL NOT NULL,
  level_db       REAL NOT NULL,              -- relative to the strike's strongest
  sigma_level_db REAL NOT NULL,
  t60_s          REAL NOT NULL,              -- 0: not known
  sigma_t60_s    REAL NOT NULL,
  beat_hz        REAL NOT NULL,
  sigma_beat_hz  REAL NOT NULL,
  pair           INTEGER NOT NULL,
  cov            BLOB,  -- 16 little-endian doubles by rows, of (ln amplitude, phase rad, rad/s, neper/s); NULL: not known
  cross          BLOB,  -- the same with the pair mate; NULL: none
  PRIMARY KEY (strike, n)
) STRICT, WITHOUT ROWID;

-- What all strikes of a voice say together. Follows from the rows above and is
-- written with them.
CREATE TABLE figure (
  voice          TEXT PRIMARY KEY REFERENCES voice (id) ON DELETE CASCADE,
  strikes        INTEGER NOT NULL,
  pitch_hz       REAL,                       -- pinned or as heard, median; NULL: no pitch
  spread_c       REAL,                       -- one sigma of a single strike; NULL: fewer than two
  ring_s         REAL,                       -- T60 of what carries the pitch, else of the strongest
  level_db       REAL,                       -- of the loudest sample, full scale 0, median; NULL: not known
  first          TEXT NOT NULL, last TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX figure_pitch ON figure (pitch_hz);

-- The partials that make up a voice, over its strikes.
CREATE TABLE mode (
  voice          TEXT NOT NULL REFERENCES voice (id) ON DELETE CASCADE,
  n              INTEGER NOT NULL,           -- by frequency
  seen           INTEGER NOT NULL,           -- in how many strikes
  frequency_hz   REAL NOT NULL,
  spread_c       REAL NOT NULL,              -- 0: seen once
  level_db       REAL NOT NULL,
  spread_db      REAL NOT NULL,
  t60_s          REAL NOT NULL,              -- 0: not known
  spread_ln_t60  REAL NOT NULL,
  PRIMARY KEY (voice, n)
) STRICT, WITHOUT ROWID;

-- A real instrument, as it was measured note by note.
CREATE TABLE instrument (
  name     TEXT PRIMARY KEY CHECK (name <> ''),
  alike    TEXT NOT NULL,                    -- the built-in instrument whose range it has
  made     TEXT NOT NULL
) STRICT;

CREATE TABLE note (
  instrument  TEXT NOT NULL REFERENCES instrument (name) ON DELETE CASCADE,
  midi        INTEGER NOT NULL,
  label       TEXT NOT NULL,
  strikes     INTEGER NOT NULL,
  targets     TEXT NOT NULL CHECK (json_valid(targets)),   -- [Hz...] as heard; none: it has no pitch
  partials    TEXT NOT NULL CHECK (json_valid(partials)),  -- [{"frequency_hz", "sigma_c", "level_db", "t60_s"}...] of its last strike
  PRIMARY KEY (instrument, midi)
) STRICT, WITHOUT ROWID;

-- Files of recordings whose every strike was kept, so that none is heard twice.
CREATE TABLE heard_file (
  content  TEXT PRIMARY KEY,                 -- first 96 bits of the SHA-256 of its bytes, hex
  name     TEXT NOT NULL,
  strikes  INTEGER NOT NULL,
  added    TEXT NOT NULL
) STRICT;
