"""The first engine start: what is expected, what the log shows, what does not fit and what to check next."""
