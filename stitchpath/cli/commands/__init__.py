"""What each command does: a module for each, loaded when its command is given."""
