"""The tables of the archive: what is searched for years later. The folders hold everything; these, a digest.

Every row belongs to a bench, so that several benches share one server and each makes its own rows anew.
Words are kept in small letters beside what is shown, because databases differ in how they compare.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    DateTime,
    Float,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)

TABLES_VERSION = 1

DERIVED_VERSION = 2
"""Of what is worked out of a session's facts: raised whenever the same folder would give other rows.

2: a warm-up that hands, a lid, a signal or a lost supply disturbed is none.
"""

metadata = MetaData()


def _key(name: str) -> Column[str]:
    return Column(name, String(80), primary_key=True)


version = Table("warmtrim_archive", metadata, Column("version", Integer, primary_key=True))

sessions = Table(
    "session",
    metadata,
    _key("bench"),
    _key("session"),
    Column("folder", Text, nullable=False),
    Column("size", Integer, nullable=False),
    Column("started_utc", DateTime(timezone=False), nullable=False),
    Column("title", Text, nullable=False),
    Column("maker", Text, nullable=False),
    Column("model", Text, nullable=False),
    Column("model_key", String(200), nullable=False),
    Column("serial", Text, nullable=False),
    Column("serial_key", String(200), nullable=False),
    Column("unit", Text, nullable=False),
    Column("job", Text, nullable=False),
    Column("job_key", String(200), nullable=False),
    Column("outcome", String(40), nullable=False),
    Column("practice", Boolean, nullable=False),
    Column("closed", Boolean, nullable=False),
    Column("rules", String(20), nullable=False),
    Column("lasted_s", Float, nullable=False),
    Column("readings", Integer, nullable=False),
    Column("summary", Text, nullable=False),
    Column("words", Text, nullable=False),
    Index("session_started", "started_utc"),
    Index("session_serial", "serial_key", "started_utc"),
    Index("session_model", "model_key", "started_utc"),
    Index("session_job", "job_key"),
    Index("session_outcome", "outcome", "started_utc"),
)

recorded = Table(
    "recorded",
    metadata,
    _key("bench"),
    _key("session"),
    Column("place", Integer, primary_key=True),
    Column("name", String(120), nullable=False),
    Column("channel", String(120), nullable=False),
    Column("value", Float),
    Column("unit", String(20), nullable=False),
    Column("conditions", Text, nullable=False),
    Column("reason", Text, nullable=False),
)

results = Table(
    "result",
    metadata,
    _key("bench"),
    _key("session"),
    Column("place", Integer, primary_key=True),
    Column("step", Text, nullable=False),
    Column("channel", String(120), nullable=False),
    Column("subject", Text, nullable=False),
    Column("outcome", String(40), nullable=False),
    Column("reason", Text, nullable=False),
    Column("value", Float),
)

traces = Table(
    "trace",
    metadata,
    _key("bench"),
    _key("session"),
    Column("channel", String(120), primary_key=True),
    Column("unit", String(20), nullable=False),
    Column("readings", Integer, nullable=False),
    Column("least", Float, nullable=False),
    Column("most", Float, nullable=False),
    Column("first", Float, nullable=False),
    Column("last", Float, nullable=False),
    Column("settled_s", Float),
    Column("drift", Float),
    Column("warm_up", Text, nullable=False),
)

faults = Table(
    "fault",
    metadata,
    _key("bench"),
    _key("session"),
    Column("place", Integer, primary_key=True),
    Column("kind", String(120), nullable=False),
    Column("words", Text, nullable=False),
)

jobs = Table(
    "job",
    metadata,
    _key("bench"),
    _key("job"),
    Column("folder", Text, nullable=False),
    Column("size", Integer, nullable=False),
    Column("opened_utc", DateTime(timezone=False), nullable=False),
    Column("number", Text, nullable=False),
    Column("reference", Text, nullable=False),
    Column("reference_key", String(200), nullable=False),
    Column("unit", Text, nullable=False),
    Column("outcome", String(60), nullable=False),
    Column("complaint", Text, nullable=False),
    Column("words", Text, nullable=False),
    Index("job_reference", "reference_key"),
)

job_sessions = Table("job_session", metadata, _key("bench"), _key("job"), _key("session"))

parts = Table(
    "part",
    metadata,
    _key("bench"),
    _key("job"),
    _key("part"),
    Column("reference", Text, nullable=False),
    Column("rating_asked", Text, nullable=False),
    Column("rating_fitted", Text, nullable=False),
    Column("quantity", Integer, nullable=False),
    Column("maker", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("batch", Text, nullable=False),
    Column("safety_critical", Boolean, nullable=False),
    Column("customer_supplied", Boolean, nullable=False),
)

derived = Table(
    "derived",
    metadata,
    _key("bench"),
    _key("session"),
    Column("version", Integer, nullable=False),
    Column("size", Integer, nullable=False),  # of the journal: what was filed since by an older program shows
)

OF_A_SESSION = (recorded, results, traces, faults, derived)
OF_A_JOB = (job_sessions, parts)
