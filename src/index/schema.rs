//! The tables of the index, with their version: an index of another version is made again.
//!
//! Never in here: reading and writing them. Changes only together with the version.

/// Version of the tables, in the file's `user_version`. Another extraction of the same records counts as one too.
pub(super) const VERSION: i64 = 2;
/// What says that a file is such an index, in its `application_id`: `Swix`.
pub(super) const APPLICATION: i64 = 0x5377_6978;

/// `fits` says that a record's recipe is for its device.
///
/// Words that stand often (units, verdicts, roles, titles) stand once, in `word`. Sets of roles are bits, by the place of
/// the role in the recipe; `n` of `used` is that place.
pub(super) const TABLES: &str = "
CREATE TABLE word(key INTEGER PRIMARY KEY, text TEXT NOT NULL UNIQUE);
CREATE TABLE device(key INTEGER PRIMARY KEY, tag TEXT NOT NULL, serial TEXT NOT NULL, maker TEXT NOT NULL,
  model TEXT NOT NULL, UNIQUE(tag, serial, maker, model));
CREATE INDEX device_model ON device(model);
CREATE TABLE recipe(key INTEGER PRIMARY KEY, id TEXT NOT NULL, revision INTEGER NOT NULL, digest TEXT NOT NULL,
  UNIQUE(id, revision, digest));
CREATE TABLE instrument(key INTEGER PRIMARY KEY, id TEXT NOT NULL, certificate TEXT NOT NULL, calibrated TEXT NOT NULL,
  due TEXT NOT NULL, UNIQUE(id, certificate, calibrated, due));
CREATE TABLE step(key INTEGER PRIMARY KEY, path TEXT NOT NULL, title TEXT NOT NULL, UNIQUE(path, title));
CREATE TABLE record(key INTEGER PRIMARY KEY, file TEXT NOT NULL UNIQUE, bytes INTEGER NOT NULL, changed INTEGER NOT NULL,
  fault TEXT, id TEXT, device INTEGER, recipe INTEGER, occasion INTEGER, trial INTEGER, fits INTEGER, at INTEGER, started TEXT,
  finished TEXT, by INTEGER, verdict INTEGER, decision INTEGER);
CREATE INDEX record_device ON record(device, at);
CREATE INDEX record_recipe ON record(recipe, at);
CREATE TABLE used(instrument INTEGER NOT NULL, at INTEGER NOT NULL, record INTEGER NOT NULL, n INTEGER NOT NULL,
  role INTEGER NOT NULL, PRIMARY KEY(instrument, at, record, n)) WITHOUT ROWID;
CREATE INDEX used_record ON used(record);
CREATE TABLE value(record INTEGER NOT NULL, n INTEGER NOT NULL, step INTEGER NOT NULL, repeats INTEGER NOT NULL,
  value TEXT, unit INTEGER, standard TEXT, expanded TEXT, read_from INTEGER, rests INTEGER NOT NULL,
  PRIMARY KEY(record, n)) WITHOUT ROWID;
CREATE TABLE held(record INTEGER NOT NULL, n INTEGER NOT NULL, step INTEGER NOT NULL, of INTEGER NOT NULL, value TEXT,
  unit INTEGER, low TEXT, high TEXT, standard TEXT, expanded TEXT, verdict INTEGER NOT NULL, severity INTEGER NOT NULL,
  rests INTEGER NOT NULL, PRIMARY KEY(record, n)) WITHOUT ROWID;
";
