"""What can be asked for on the command line? A module for each command.

Each has ``add_parser(subparsers)``; a step's options come from the fields of its question
(``step_command``). COMMANDS.md in this folder lists them all and is made from the parsers.
"""
