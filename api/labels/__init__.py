"""Every word that a page or a sheet shows, in one place: a folder of TOML files for each language.

``en/bench.toml`` holds the English labels of the bench page, ``de/bench.toml`` the German ones. A
label is found by file, table and key: ``bench.last.stored``. ``{name}`` in a label is filled in. A
label that depends on a count is a table with the plural categories of CLDR (``one``, ``other``…),
chosen by the value ``count``. Another language is another folder with the same files.

What a spec, an entry or an error says is not a label: it is shown in the words it was recorded in.
"""
