"""The steps from one form of the tables to the next (Alembic). A step that was ever shipped is not changed any more."""
