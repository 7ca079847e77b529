"""Studies of the fit by simulation: long forms as scripts, short forms as tests."""
