"""Write the blank logs and the column dictionary beside this script, from the declared columns.

Run ``python data_templates/make_blank_logs.py`` after a column has changed. It replaces
``rearing_log.xlsx``, the folder ``rearing_log_csv`` and ``columns.md``; where nothing has changed,
they stay the same, byte for byte.
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from demo_making.sheets import forget_when

from rearkit.logbook.blank.dictionary import write_dictionary
from rearkit.logbook.blank.workbook import write_blank

HERE = Path(__file__).resolve().parent


def main() -> None:
    """Write all three; an old file goes only once the new one is whole."""
    with TemporaryDirectory(dir=HERE) as folder:
        new = Path(folder)
        workbook = write_blank(new / "rearing_log.xlsx")
        forget_when(workbook)
        workbook.replace(HERE / "rearing_log.xlsx")
        kept = HERE / "rearing_log_csv"
        kept.mkdir(exist_ok=True)
        for file in sorted(write_blank(new / "csv").iterdir()):
            file.replace(kept / file.name)
    write_dictionary(HERE / "columns.md")


if __name__ == "__main__":
    main()
