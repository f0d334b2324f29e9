"""The command line: names the commands, parses their words, calls ``app``, prints the answer."""
