"""Commands: one thin module each, with `arguments(parser)` and `run(args)`, which gives the exit code.

In: words from the command line. Out: text, an exit code (0 done, 1 something is wrong with the
files, 2 wrong words). The clock is read here and nowhere else. A command imports the rooms it needs
inside `run`, so that help is instant. Must not know: the rules of any room.
"""

# Command -> its line of help; the module of that name is imported when the command is chosen.
COMMANDS: dict[str, str] = {
    "build": "make the site from a journal",
    "check": "say what is wrong with a journal's files",
    "demo": "begin with a copy of the demo journal",
    "foresee": "say what a colony would take out of a system's water",
    "journey": "say whether a colony can travel, and how",
    "origin": "make the record of origin of a coral or a trade",
    "place": "say where a colony could go, and what must move for it",
    "recipe": "say what to weigh out for a stock",
    "schemas": "write the schemas that let an editor help",
    "take-in": "take in a partner's record of origin",
    "verify": "say what a record of origin proves",
    "what-if": "say what cutting or moving a coral would do to the demand",
}
