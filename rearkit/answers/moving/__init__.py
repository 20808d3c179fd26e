"""When does a batch need a bigger container? Two limits, and which of them binds first."""
