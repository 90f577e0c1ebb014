"""The first schema: the shop, cases, exhibits, events, outcomes, diagnoses.

Never edited once released. It names its tables itself instead of asking `models.py`, which moves on.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    moment = sa.DateTime(timezone=True)
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer, nullable=False, autoincrement=False),
        sa.Column("last_number", sa.Integer, nullable=False),
        sa.Column("made_at", moment, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_shop"),
    )
    op.create_table(
        "cases",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("title", sa.String, nullable=False),
        sa.Column("story", sa.String, nullable=False),
        sa.Column("opened", sa.Date, nullable=False),
        sa.Column("status", sa.String, nullable=False),
        sa.Column("waits_for", sa.String, nullable=False),
        sa.Column("case_toml", sa.String, nullable=False),
        sa.Column("created_at", moment, nullable=False),
        sa.Column("changed_at", moment, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_cases"),
        sa.UniqueConstraint("number", name="uq_cases_number"),
    )
    op.create_index("ix_cases_status", "cases", ["status"])
    op.create_table(
        "exhibits",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("case_id", sa.Integer, nullable=False),
        sa.Column("sha256", sa.String, nullable=False),
        sa.Column("name", sa.String, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("note", sa.String, nullable=False),
        sa.Column("bytes", sa.BigInteger, nullable=False),
        sa.Column("added_at", moment, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_exhibits"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_exhibits_case_id"),
        sa.UniqueConstraint("case_id", "name", name="uq_exhibits_case_id_name"),
    )
    op.create_index("ix_exhibits_case_id", "exhibits", ["case_id"])
    op.create_index("ix_exhibits_sha256", "exhibits", ["sha256"])
    op.create_table(
        "events",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("case_id", sa.Integer, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("payload", sa.JSON, nullable=False),
        sa.Column("before", sa.JSON, nullable=False),
        sa.Column("at", moment, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_events"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_events_case_id"),
    )
    op.create_index("ix_events_case_id", "events", ["case_id"])
    op.create_table(
        "outcomes",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("case_id", sa.Integer, nullable=False),
        sa.Column("cause", sa.String, nullable=True),
        sa.Column("text", sa.String, nullable=False),
        sa.Column("was_right", sa.Boolean, nullable=True),
        sa.Column("note", sa.String, nullable=False),
        sa.Column("closed_at", moment, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_outcomes"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_outcomes_case_id"),
        sa.UniqueConstraint("case_id", name="uq_outcomes_case_id"),
    )
    op.create_index("ix_outcomes_cause", "outcomes", ["cause"])
    op.create_table(
        "diagnoses",
        sa.Column("case_id", sa.Integer, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("version", sa.String, nullable=False),
        sa.Column("made_at", moment, nullable=False),
        sa.Column("content", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("case_id", name="pk_diagnoses"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_diagnoses_case_id"),
    )
