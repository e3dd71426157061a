"""A class's papers: rosters in, tables out, names that every system takes.

`spreadsheet` reads what people save or paste, `roster` finds the students in it, `wishes`
what each of them is to have; `table` writes a table that a spreadsheet opens as it is
meant; `safe_names` turns a name in any script into a file's.
"""
