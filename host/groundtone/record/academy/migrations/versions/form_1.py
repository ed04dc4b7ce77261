"""The library's form 1, as record/schema.py has it."""

from alembic import op

from groundtone.record.academy.migrating import statements

revision, down_revision = "1", None


def upgrade() -> None:
    """Carries out its statements."""
    for statement in statements(1):
        op.get_bind().exec_driver_sql(statement)
