"""The library's form 2, as record/schema.py has it."""

from alembic import op

from groundtone.record.academy.migrating import statements

revision, down_revision = "2", "1"


def upgrade() -> None:
    """Carries out its statements."""
    for statement in statements(2):
        op.get_bind().exec_driver_sql(statement)
