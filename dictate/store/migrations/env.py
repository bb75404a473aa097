"""What Alembic runs: it works on the connection that it is given, in that connection's transaction."""

from __future__ import annotations

from alembic import context

from dictate.store.tables import meta

context.configure(connection=context.config.attributes["connection"], target_metadata=meta)
context.run_migrations()
