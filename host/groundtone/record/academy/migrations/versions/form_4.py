"""The library's form 4, as record/schema.py has it."""

from alembic import op

from groundtone.record.academy.migrating import statements

revision, down_revision = "4", "3"


def upgrade() -> None:
    """Carries out its statements."""
    for statement in statements(4):
        op.get_bind().exec_driver_sql(statement)
