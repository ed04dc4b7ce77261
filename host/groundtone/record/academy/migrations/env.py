"""What Alembic runs: the revisions, on the connection that `migrating.py` has opened and will commit."""

from alembic import context

context.configure(connection=context.config.attributes["connection"])
context.run_migrations()
