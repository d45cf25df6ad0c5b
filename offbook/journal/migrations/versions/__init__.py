"""One file for each change of the tables, oldest first; a shipped file is never edited."""
