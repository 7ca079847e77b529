"""The command line: arguments and exit codes, no arithmetic. One module a command."""
