"""Running the application: readiness, metrics, request log, deployment checks."""
