"""The history of a job on disk: one SQLite file a job, only ever added to."""
