"""The texts of what is printed, in every language.

Each language has a folder of catalogues here, named by its tag (RFC 5646), in the form that the
page's catalogues have: texts by key, grouped by what they are printed on, with `{name}` for a
value and the plural forms of Unicode CLDR where a text counts. `table.json` has the headings of
tables that are read, with `|` between those for one column. A language is added with such a
folder here and one in `client/web/words`, and with nothing else: `languages` lists the folders,
and Babel (CLDR) knows each language's plurals, decimal mark and units.
"""
