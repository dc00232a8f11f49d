"""The first tables of the record."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade():
    """Make the tables."""
    op.create_table(
        "apiary",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("folded", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("revision", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_apiary"),
        sa.UniqueConstraint("folded", name="uq_apiary_folded"),
    )
    op.create_table(
        "hive",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("folded", sa.Text(), nullable=False),
        sa.Column("added", sa.BigInteger(), nullable=False),
        sa.Column("ended", sa.String(10), nullable=True),
        sa.Column("ended_because", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_hive"),
    )
    op.create_table(
        "placement",
        sa.Column("hive", sa.String(64), nullable=False),
        sa.Column("since", sa.String(10), nullable=False),
        sa.Column("apiary", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("hive", "since", name="pk_placement"),
        sa.ForeignKeyConstraint(["hive"], ["hive.id"], name="fk_placement_hive"),
        sa.ForeignKeyConstraint(["apiary"], ["apiary.id"], name="fk_placement_apiary"),
    )
    op.create_index("ix_placement_apiary", "placement", ["apiary"])
    op.create_table(
        "entry",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("apiary", sa.String(64), nullable=False),
        sa.Column("sequence", sa.BigInteger(), nullable=False),
        sa.Column("hive", sa.String(64), nullable=True),
        sa.Column("date", sa.String(10), nullable=False),
        sa.Column("note", sa.String(64), nullable=False),
        sa.Column("replaces", sa.String(64), nullable=True),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_entry"),
        sa.ForeignKeyConstraint(["apiary"], ["apiary.id"], name="fk_entry_apiary"),
        sa.ForeignKeyConstraint(["hive"], ["hive.id"], name="fk_entry_hive"),
        sa.ForeignKeyConstraint(["replaces"], ["entry.id"], name="fk_entry_replaces"),
        sa.UniqueConstraint("apiary", "sequence", name="uq_entry_apiary_sequence"),
    )
    op.create_index("ix_entry_note", "entry", ["note"])
    op.create_index("ix_entry_replaces", "entry", ["replaces"])
    op.create_index("ix_entry_hive_date", "entry", ["hive", "date"])
    op.create_index("ix_entry_apiary_hive_date", "entry", ["apiary", "hive", "date"])
    op.create_table(
        "withdrawn",
        sa.Column("entry", sa.String(64), nullable=False),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("entry", name="pk_withdrawn"),
        sa.ForeignKeyConstraint(["entry"], ["entry.id"], name="fk_withdrawn_entry"),
    )
    op.create_table(
        "told",
        sa.Column("hive", sa.String(64), nullable=False),
        sa.Column("what", sa.String(96), nullable=False),
        sa.Column("date", sa.String(10), nullable=False),
        sa.Column("entry", sa.String(64), nullable=False),
        sa.ForeignKeyConstraint(["entry"], ["entry.id"], name="fk_told_entry"),
        sa.UniqueConstraint("hive", "what", "date", "entry", name="uq_told_hive_what_date_entry"),
    )
    op.create_index("ix_told_entry", "told", ["entry"])
