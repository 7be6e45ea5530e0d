-- The shelf of several benches in one PostgreSQL database: tables, and a role for the benches
-- that may note and find runs and nothing else. To be run once, by whoever keeps the server, in a
-- database made for it:
--
--   createdb shelf
--   psql -d shelf -v ON_ERROR_STOP=1 -f server.sql
--   psql -d shelf -c '\password shelf_bench'
--
-- Every program of this index's schema (2) uses these tables; another schema has its own beside
-- them. They hold nothing that is not in the run folders: they may be dropped at any time. Where an
-- earlier schema's tables are (shelf_runs_1 ...), the same second line adds these; the benches fill
-- them by themselves, and once no bench uses the old ones they may be dropped.

BEGIN;

DO $$ BEGIN
  IF to_regrole('shelf_keeper') IS NULL THEN CREATE ROLE shelf_keeper NOLOGIN; END IF;
  IF to_regrole('shelf_bench') IS NULL THEN CREATE ROLE shelf_bench LOGIN; END IF;
END $$;

CREATE SCHEMA IF NOT EXISTS shelf AUTHORIZATION shelf_keeper;
REVOKE ALL ON SCHEMA public FROM PUBLIC;

DO $$ BEGIN
  EXECUTE format('REVOKE ALL ON DATABASE %I FROM PUBLIC', current_database());
  EXECUTE format('GRANT CONNECT ON DATABASE %I TO shelf_bench', current_database());
  EXECUTE format('ALTER ROLE shelf_bench IN DATABASE %I SET search_path = shelf', current_database());
END $$;

GRANT USAGE ON SCHEMA shelf TO shelf_bench;

-- Large objects lie outside every schema, and everybody may make them unless told otherwise: a full
-- disk. What makes one is taken from everybody in this database; nothing of the shelf uses them.
REVOKE EXECUTE ON FUNCTION lo_creat(integer), lo_create(oid), lo_from_bytea(oid, bytea) FROM PUBLIC;

SET LOCAL ROLE shelf_keeper;
SET LOCAL search_path = shelf;

CREATE TABLE shelf_aside_2 (
  shelf VARCHAR(80) NOT NULL,
  folder VARCHAR(500) COLLATE "C" NOT NULL,
  place TEXT NOT NULL,
  bench VARCHAR(250) NOT NULL,
  stamp VARCHAR(120) NOT NULL,
  run_id VARCHAR(200) COLLATE "C" NOT NULL,
  problem TEXT NOT NULL,
  PRIMARY KEY (shelf, folder)
);
CREATE TABLE shelf_runs_2 (
  run_id VARCHAR(200) COLLATE "C" NOT NULL,
  last_letters VARCHAR(80) COLLATE "C" NOT NULL,
  began_utc VARCHAR(40) COLLATE "C" NOT NULL,
  serial_key VARCHAR(80) COLLATE "C" NOT NULL,
  job_key VARCHAR(80) COLLATE "C" NOT NULL,
  same_unit_key VARCHAR(200) COLLATE "C" NOT NULL,
  stage_key VARCHAR(250) COLLATE "C" NOT NULL,
  rated_key VARCHAR(250) COLLATE "C" NOT NULL,
  words TEXT NOT NULL,
  unit_key TEXT NOT NULL,
  outcome VARCHAR(250) NOT NULL,
  state VARCHAR(20) NOT NULL,
  simulated BOOLEAN NOT NULL,
  may_change BOOLEAN NOT NULL,
  shelf VARCHAR(80) NOT NULL,
  folder TEXT NOT NULL,
  place TEXT NOT NULL,
  bench VARCHAR(250) NOT NULL,
  stamp VARCHAR(120) NOT NULL,
  ended_utc VARCHAR(40),
  serial VARCHAR(250),
  unit VARCHAR(250),
  job_number VARCHAR(250),
  customer VARCHAR(250),
  fitted_to VARCHAR(250),
  complaint TEXT,
  parts_fitted TEXT,
  claim VARCHAR(250),
  stage VARCHAR(250),
  operator VARCHAR(250),
  rig VARCHAR(250),
  rated VARCHAR(250),
  method VARCHAR(250),
  rule VARCHAR(250),
  points INTEGER,
  top_amps DOUBLE PRECISION,
  top_rpm DOUBLE PRECISION,
  least_margin_amps DOUBLE PRECISION,
  p_all DOUBLE PRECISION,
  cut_in_rpm DOUBLE PRECISION,
  reason TEXT NOT NULL,
  findings TEXT NOT NULL,
  PRIMARY KEY (run_id)
);
CREATE INDEX shelf_runs_2_by_date ON shelf_runs_2 (began_utc, run_id, words);
CREATE INDEX shelf_runs_2_by_folder ON shelf_runs_2 (shelf, folder);
CREATE INDEX shelf_runs_2_by_job ON shelf_runs_2 (job_key, began_utc);
CREATE INDEX shelf_runs_2_by_kind ON shelf_runs_2 (simulated, began_utc);
CREATE INDEX shelf_runs_2_by_letters ON shelf_runs_2 (last_letters);
CREATE INDEX shelf_runs_2_by_name ON shelf_runs_2 (folder);
CREATE INDEX shelf_runs_2_by_outcome ON shelf_runs_2 (outcome, began_utc);
CREATE INDEX shelf_runs_2_by_rated ON shelf_runs_2 (rated_key, began_utc);
CREATE INDEX shelf_runs_2_by_serial ON shelf_runs_2 (serial_key, began_utc);
CREATE INDEX shelf_runs_2_by_stage ON shelf_runs_2 (stage_key, began_utc);
CREATE INDEX shelf_runs_2_by_unit ON shelf_runs_2 (same_unit_key);
CREATE INDEX shelf_runs_2_open ON shelf_runs_2 (shelf) WHERE may_change;
CREATE TABLE shelf_seen_2 (
  shelf VARCHAR(80) NOT NULL,
  bench VARCHAR(250) NOT NULL,
  changed_ns BIGINT,
  PRIMARY KEY (shelf, bench)
);

GRANT SELECT, INSERT, UPDATE, DELETE
  ON shelf_runs_2, shelf_aside_2, shelf_seen_2 TO shelf_bench;

COMMIT;

-- Finds words anywhere in a run's names without looking at every run. The extension comes with
-- PostgreSQL (Debian: in the server's package); without it the shelf works all the same.
CREATE EXTENSION IF NOT EXISTS pg_trgm SCHEMA shelf;
CREATE INDEX shelf_runs_2_by_word ON shelf.shelf_runs_2 USING gin (words shelf.gin_trgm_ops);
