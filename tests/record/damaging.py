"""What the tests of the store on disk do to its file, and how they read a fault."""

import sqlite3


def change(path, statement, *values):
    with sqlite3.connect(path) as database:
        database.execute(statement, values)
    database.close()


def one_line(error):
    text = str(error.value)
    assert "\n" not in text
    assert "journal" in text
    return text
