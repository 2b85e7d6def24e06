BEGIN TRANSACTION;
CREATE TABLE bench_wear (
	id INTEGER NOT NULL,
	soak_id VARCHAR NOT NULL,
	part VARCHAR NOT NULL,
	kind VARCHAR NOT NULL,
	fixture VARCHAR NOT NULL,
	plugged INTEGER NOT NULL,
	written_bytes INTEGER NOT NULL,
	size_bytes INTEGER NOT NULL,
	PRIMARY KEY (id),
	FOREIGN KEY(soak_id) REFERENCES soaks (soak_id)
);
CREATE TABLE came_back (
	entry INTEGER NOT NULL,
	sale INTEGER NOT NULL,
	complaint VARCHAR NOT NULL,
	answers JSON NOT NULL,
	hazard VARCHAR NOT NULL CHECK (hazard in ('', 'smoke', 'shock', 'burn')),
	PRIMARY KEY (entry),
	FOREIGN KEY(entry) REFERENCES entries (number),
	UNIQUE (sale),
	FOREIGN KEY(sale) REFERENCES sales (entry)
);
INSERT INTO "came_back" VALUES(8,7,'it tingles','{}','shock');
CREATE TABLE entries (
	number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	unit_id INTEGER NOT NULL,
	kind VARCHAR NOT NULL,
	day VARCHAR NOT NULL,
	"by" VARCHAR NOT NULL,
	recorded_utc VARCHAR NOT NULL,
	FOREIGN KEY(unit_id) REFERENCES units (id)
);
INSERT INTO "entries" VALUES(1,1,'job','2026-06-01','','2026-06-14T10:05:29+00:00');
INSERT INTO "entries" VALUES(2,1,'soak','2026-01-05','','2026-06-14T10:05:29+00:00');
INSERT INTO "entries" VALUES(3,1,'job','2026-06-02','TK','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(4,1,'repair','2026-06-02','TK','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(5,1,'wiped','2026-06-02','TK','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(6,1,'soak','2026-01-05','','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(7,1,'sold','2026-06-03','','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(8,1,'came back','2026-06-10','TK','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(9,1,'job','2026-06-10','TK','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(10,1,'hazard settled','2026-06-11','TK','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(11,1,'job','2026-06-12','','2026-06-14T10:05:30+00:00');
INSERT INTO "entries" VALUES(12,1,'sold','2026-06-13','','2026-06-14T10:05:30+00:00');
CREATE TABLE grades (
	id INTEGER NOT NULL,
	soak_id VARCHAR NOT NULL,
	grade VARCHAR NOT NULL,
	reason VARCHAR NOT NULL,
	rules VARCHAR NOT NULL,
	judged JSON NOT NULL,
	recorded_utc VARCHAR NOT NULL,
	PRIMARY KEY (id),
	FOREIGN KEY(soak_id) REFERENCES soaks (soak_id)
);
INSERT INTO "grades" VALUES(1,'intake-1','not ready: failed','the picture dropped out 3 times','1','["intake-1"]','2026-06-14T10:05:29+00:00');
INSERT INTO "grades" VALUES(2,'soak-1','ready','all requirements are met','1','["soak-1"]','2026-06-14T10:05:30+00:00');
CREATE TABLE jobs (
	entry INTEGER NOT NULL,
	job_id VARCHAR NOT NULL,
	unit_id INTEGER NOT NULL,
	number INTEGER NOT NULL,
	why VARCHAR NOT NULL,
	PRIMARY KEY (entry),
	UNIQUE (unit_id, number),
	FOREIGN KEY(entry) REFERENCES entries (number),
	UNIQUE (job_id),
	FOREIGN KEY(unit_id) REFERENCES units (id)
);
INSERT INTO "jobs" VALUES(1,'S1-1',1,1,'bought');
INSERT INTO "jobs" VALUES(3,'S1-2',1,2,'repaired after intake');
INSERT INTO "jobs" VALUES(9,'S1-3',1,3,'came back: it tingles');
INSERT INTO "jobs" VALUES(11,'S1-4',1,4,'look inside');
CREATE TABLE ledger_version (
	version INTEGER NOT NULL,
	since_utc VARCHAR NOT NULL,
	program VARCHAR NOT NULL,
	PRIMARY KEY (version)
);
INSERT INTO "ledger_version" VALUES(3,'2026-06-14T10:05:29+00:00','0.1.0');
CREATE TABLE photographs (
	entry INTEGER NOT NULL,
	what VARCHAR NOT NULL,
	file VARCHAR NOT NULL,
	sha256 VARCHAR NOT NULL,
	seal VARCHAR NOT NULL,
	PRIMARY KEY (entry),
	FOREIGN KEY(entry) REFERENCES entries (number)
);
CREATE TABLE repairs (
	entry INTEGER NOT NULL,
	id VARCHAR NOT NULL,
	job_id VARCHAR NOT NULL,
	what VARCHAR NOT NULL,
	function VARCHAR NOT NULL,
	kind VARCHAR NOT NULL CHECK (kind in ('rework', 'repair', 'part replaced', 'donor part')),
	part VARCHAR NOT NULL,
	batch VARCHAR NOT NULL,
	PRIMARY KEY (entry),
	FOREIGN KEY(entry) REFERENCES entries (number),
	FOREIGN KEY(job_id) REFERENCES jobs (job_id)
);
INSERT INTO "repairs" VALUES(4,'R1','S1-2','port resoldered','video','rework','','');
CREATE TABLE sales (
	entry INTEGER NOT NULL,
	job_id VARCHAR NOT NULL,
	"where" VARCHAR NOT NULL,
	price VARCHAR,
	report VARCHAR NOT NULL,
	although VARCHAR NOT NULL,
	PRIMARY KEY (entry),
	FOREIGN KEY(entry) REFERENCES entries (number),
	FOREIGN KEY(job_id) REFERENCES jobs (job_id)
);
INSERT INTO "sales" VALUES(7,'S1-2','market stall','49.90','','');
INSERT INTO "sales" VALUES(12,'S1-4','own shop',NULL,'','it was not soaked since its last job began');
CREATE TABLE settled (
	entry INTEGER NOT NULL,
	came_back INTEGER NOT NULL,
	found VARCHAR NOT NULL,
	PRIMARY KEY (entry),
	FOREIGN KEY(entry) REFERENCES entries (number),
	UNIQUE (came_back),
	FOREIGN KEY(came_back) REFERENCES came_back (entry)
);
INSERT INTO "settled" VALUES(10,8,'a loose screw');
CREATE TABLE soaks (
	entry INTEGER NOT NULL,
	soak_id VARCHAR NOT NULL,
	job_id VARCHAR NOT NULL,
	script VARCHAR NOT NULL,
	began_utc VARCHAR NOT NULL,
	ended VARCHAR NOT NULL,
	seal VARCHAR NOT NULL,
	simulated BOOLEAN NOT NULL,
	starts INTEGER NOT NULL,
	powered_s FLOAT NOT NULL,
	written_bytes INTEGER NOT NULL,
	not_tested JSON NOT NULL,
	not_shown JSON NOT NULL,
	PRIMARY KEY (entry),
	FOREIGN KEY(entry) REFERENCES entries (number),
	UNIQUE (soak_id),
	FOREIGN KEY(job_id) REFERENCES jobs (job_id)
);
INSERT INTO "soaks" VALUES(2,'intake-1','S1-1','intake','2026-01-05T21:00:00Z','complete','983517e81d9c70c3b4a4dedbcf6ba78c227b8e44589b4dafb559190d17e2b05c',0,2,90.0,3000,'["reads its service port", "plays sound"]','[]');
INSERT INTO "soaks" VALUES(6,'soak-1','S1-2','overnight','2026-01-05T21:00:00Z','complete','34da63790261297d2a9bcc4825e377b68ad5d3a2e24f8c2d53c328c28ce17c03',0,2,90.0,3000,'["reads its service port", "plays sound"]','[]');
CREATE TABLE units (
	id INTEGER NOT NULL,
	tag VARCHAR COLLATE "NOCASE" NOT NULL,
	serial VARCHAR NOT NULL,
	model VARCHAR NOT NULL,
	bought VARCHAR,
	state VARCHAR NOT NULL CHECK (state in ('on the bench', 'sold', 'came back')),
	PRIMARY KEY (id),
	UNIQUE (tag)
);
INSERT INTO "units" VALUES(1,'S1','SP40-0017','Ferrow SP-40','2026-06-01','sold');
CREATE TABLE wiped (
	entry INTEGER NOT NULL,
	how VARCHAR NOT NULL,
	verified VARCHAR NOT NULL,
	PRIMARY KEY (entry),
	FOREIGN KEY(entry) REFERENCES entries (number)
);
INSERT INTO "wiped" VALUES(5,'reset','read back');
CREATE INDEX ix_entries_unit_id ON entries (unit_id);
CREATE INDEX ix_grades_soak_id ON grades (soak_id);
CREATE INDEX ix_bench_wear_part ON bench_wear (part);
CREATE INDEX ix_bench_wear_soak_id ON bench_wear (soak_id);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('entries',12);
COMMIT;
