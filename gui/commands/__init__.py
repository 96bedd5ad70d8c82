"""What can be asked for on the command line? A module for each command."""
