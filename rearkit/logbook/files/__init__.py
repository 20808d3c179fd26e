"""A spreadsheet in, cells with their addresses out, bounded in size and time.

The readers of .xlsx, .ods and CSV are our own. python-calamine was measured against them: it reads
the error of a formula as a blank cell, which in a log means "did not look"; it loses the formats
that make a number a percentage and the setting that days count from 1904; and one cell at the far
corner of a sheet makes it ask for so much memory that the whole process ends. openpyxl and odfpy
build an object a cell and expand what a hostile file tells them to. The old .xls comes in through
xlrd, held to a size at which even a hostile file costs little.
"""
