"""How Alembic reaches the record: by the connection it is given."""

from alembic import context

from hiveweek.record.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transactional_ddl=False,
)
context.run_migrations()
