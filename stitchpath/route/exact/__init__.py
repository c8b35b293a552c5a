"""The exact search: linear program, cuts, branches."""
