"""The commands of the command line, a file each (bot/cli.py names them and their options)."""
