"""What learners practised."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade():
    """Make the table."""
    op.create_table(
        "practised",
        sa.Column("id", sa.String(64), nullable=False),
        sa.Column("lesson", sa.String(96), nullable=False),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_practised"),
    )
