"""Commands in thin modules, with `arguments(parser)` and `run(args)`, which gives the exit code.

In: arguments from the command line. Out: text in English, and an exit code: 0 done, 1 something is
wrong in the files or the question fails, 2 wrong arguments, 3 something needs the keeper (if `today`
was asked to say so), 130 stopped by Ctrl-C. Only this room reads the clock. A command imports the rooms
it needs inside `run`, so that help is instant. Must not know: the rules of any room.
"""

# Command -> its line of help; its module is imported when the command is chosen.
COMMANDS: dict[str, str] = {
    "arrive": "record that a plan has arrived",
    "begin": "begin a journal of your own",
    "build": "make the site from a journal",
    "check": "list every mistake in a journal's files",
    "completion": "let your shell complete commands and names",
    "demo": "start with a copy of the demo journal",
    "gather": "take readings, notes and corals from spreadsheets",
    "journey": "check whether a colony can travel, and how to pack it",
    "note": "write down what was read, given, done or seen, in one line",
    "origin": "make the record of origin of a coral or a trade",
    "place": "find a place for a colony, and what must move for it",
    "predict": "predict the uptake of a colony before it comes",
    "recipe": "calculate what to weigh out for a stock solution",
    "schemas": "write the schemas that help your editor",
    "sheet": "print the sheet of a plan: its day in order",
    "since": "say what changed since a day or a revision",
    "tables": "write all tables: CSV, SQLite, Data Package",
    "take-in": "add the corals of a partner's record of origin",
    "tidy": "write names and units in the house form",
    "today": "say what needs you today, and why",
    "verify": "check what a record of origin proves",
    "watch": "show the site while you write, made anew at each save",
    "what-if": "predict uptake after a coral is cut, moved or removed",
}
# Command -> the module of another in which it is, as `what_if_run(args)`.
BESIDE = {
    "arrive": "note",
    "completion": "check",
    "demo": "begin",
    "place": "predict",
    "recipe": "journey",
    "schemas": "check",
    "sheet": "journey",
    "since": "today",
    "tables": "build",
    "tidy": "check",
    "take-in": "origin",
    "verify": "origin",
    "what-if": "predict",
}
