"""Django's backend for PostgreSQL, whose connections do not wait for a server that has stopped answering."""
