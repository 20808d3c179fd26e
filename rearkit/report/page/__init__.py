"""The one-file page: its template and style sheet lie here, and what may stand on it."""
