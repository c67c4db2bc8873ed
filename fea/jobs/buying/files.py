"""The list as CSV, XLSX and JSON; the form to ask prices with, and prices read back from it."""

from __future__ import annotations

import csv
import datetime
import json
import shutil
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from platestack.fea.jobs.buying import bill
from platestack.fea.jobs.buying.bill import STEPS, Materials, Quote
from platestack.fea.jobs.buying.line import OrderLine
from platestack.fea.results import run_directory
from platestack.fea.support import result_files
from platestack.geometry import case as case_file
from platestack.geometry import cells, layout
from platestack.geometry.errors import PlatestackError, UsageError
from platestack.geometry.units import fixed, shown_in, using

MARK = "parts.json"
FORMS = "prices-to-fill-in.csv", "prices-to-fill-in.xlsx"
ASKED = ("price of one", "lead time in days")
HEAD = ("part", "what", "designation", "material", "as bought", "quantity")
LARGEST, MOST_LEAD = 1e9, 1000


def write(
    path: Path, out: Path, *, quotes: Path | None = None, assembly: datetime.date | None = None,
    steel_factor: float = 1.0,
) -> Materials:  # fmt: skip
    """Make the list of a case file and write it into `out`.

    Raises
    ------
    PlatestackError
        If the case or the file with prices is bad, or a file cannot be written.
    """
    case = case_file.read(path)
    press = layout.build(case)
    with using(case.units):
        plain = bill.make(press, case)
        found = read_quotes(quotes, plain) if quotes else {}
        made = bill.make(press, case, found, steel_factor)
        with run_directory.directory(out, MARK) as folder:
            _write(made, folder, assembly)
            for name in FORMS:
                if begun(out / name, plain):  # somebody's work stays
                    shutil.copy2(out / name, folder / name)
    return made


def _write(made: Materials, folder: Path, assembly: datetime.date | None) -> None:
    table = rows(made, assembly)
    with (folder / "parts.csv").open("w", newline="", encoding="utf-8") as file:
        file.write(result_files.csv_head("parts"))
        csv.writer(file).writerows([[cells.plain(cell) for cell in row] for row in table])
    asked = form(made)
    with (folder / "prices-to-fill-in.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([[cells.plain(cell) for cell in row] for row in asked])
    _workbook({"parts": table, "suppliers": suppliers(made), "dates": dates(made, assembly)},
              folder / "parts.xlsx")  # fmt: skip
    _workbook({"prices": asked}, folder / "prices-to-fill-in.xlsx")
    data = result_files.head("parts") | {
        "press": made.press, "currency": made.currency, "steel_factor": made.steel_factor,
        "assembly": assembly.isoformat() if assembly else None,
        "lines": [_record(made, line) for line in made.lines],
        "total": asdict(made.total()),
    }  # fmt: skip
    text = json.dumps(data, indent=2, ensure_ascii=False) + "\n"
    (folder / MARK).write_text(text, encoding="utf-8")


def _record(made: Materials, line: OrderLine) -> dict[str, Any]:
    money = made.money(line)
    return asdict(line) | {
        "price": {"low": money.low, "likely": money.likely, "high": money.high,
                  "from": money.state},
        "waits": STEPS[line.step][1],
    }  # fmt: skip


def rows(made: Materials, assembly: datetime.date | None) -> list[list[Any]]:
    """Head and a row for each line, sizes and masses in the unit wished."""
    kilos = shown_in("kg")
    coin = f" [{made.currency}]" if made.currency else ""
    head = ["part", "what", "made or bought", "supplier", "designation", "material", "finished",
            "as bought", "quantity", f"mass of one [{kilos.name}]",
            f"mass as bought, all [{kilos.name}]", f"price least{coin}", f"price likely{coin}",
            f"price most{coin}", "price from", "operations", "drawing", "lead time [days]",
            "lead time from", "order by" if assembly else "order before assembly [days]",
            "waits for it", "note"]  # fmt: skip
    table: list[list[Any]] = [head]
    for line in made.lines:
        money = made.money(line)
        figures = ("", "", "") if money.state == "not priced" else \
            tuple(round(x, 2) for x in (money.low, money.likely, money.high))  # fmt: skip
        table.append([
            line.number, line.name, line.way, line.supplier, line.standard, line.material,
            line.finished.words(), line.order.words(), line.quantity,
            round(line.mass / kilos.scale, 2) or "",
            round(line.order_mass * line.quantity / kilos.scale, 2) or "", *figures, money.state,
            "; ".join(f"{step.name} {step.amount:.2f}" for step in line.operations), line.drawing,
            line.lead or "", "quoted" if line.lead_given else "practice" if line.lead else "",
            _when(made, line, assembly) if line.lead else "",
            STEPS[line.step][1], line.note,
        ])  # fmt: skip
    return table


def _when(made: Materials, line: OrderLine, assembly: datetime.date | None) -> str | int:
    """Last day to order, or days before assembly."""
    if assembly is None:
        return line.lead + STEPS[line.step][0]
    return made.order_by(line, assembly).isoformat()


def suppliers(made: Materials) -> list[list[Any]]:
    """Head and a row of sums for each kind of supplier, and for all."""
    coin = f" [{made.currency}]" if made.currency else ""
    table: list[list[Any]] = [["supplier", "lines", *(f"{w}{coin}" for w in (
        "least", "likely", "most", "quoted", "listed", "guessed"))]]  # fmt: skip
    for name in (*made.suppliers, None):
        total = made.total(name)
        count = sum(name in (None, line.supplier) for line in made.lines)
        table.append([name or "all", count, *(round(x, 2) for x in (
            total.low, total.likely, total.high,
            *(total.parts[s] for s in bill.STATES)))])  # fmt: skip
    return table


def dates(made: Materials, assembly: datetime.date | None) -> list[list[Any]]:
    """Head and rows of what to order first."""
    table: list[list[Any]] = [["order by" if assembly else "days before assembly", "part", "what",
                               "lead time [days]", "waits for it"]]  # fmt: skip
    for _, line in made.in_time():
        table.append(
            [_when(made, line, assembly), line.number, line.name, line.lead, STEPS[line.step][1]]
        )
    return table


def form(made: Materials) -> list[list[Any]]:
    """Head and a row for each line that is bought, without any price."""
    coin = f" [{made.currency}]" if made.currency else ""
    table: list[list[Any]] = [
        [*HEAD, "mass of one as bought", "drawing", f"{ASKED[0]}{coin}", ASKED[1], "remark"]
    ]
    for line in made.lines:
        if line.guess or line.operations:
            size = line.order.words() or line.finished.words()
            mass = fixed(line.order_mass, "kg", 1) if line.order_mass else ""
            drawings = "; ".join(filter(None, (line.drawing, line.cut_file)))
            table.append([line.number, line.name, line.standard, line.material, size,
                          line.quantity, mass, drawings, "", "", ""])  # fmt: skip
    return table


def _workbook(sheets: dict[str, list[list[Any]]], path: Path) -> None:
    """Write tables as sheets: heads bold and kept in sight, columns as wide as their words."""
    import openpyxl
    from openpyxl.styles import Alignment, Font

    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, table in sheets.items():
        sheet = book.create_sheet(title)
        for row in table:
            sheet.append([cells.plain(cell) for cell in row])
        for cell in sheet[1]:
            cell.font = Font(bold=True)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
        for column in sheet.columns:
            width = max(len(str(cell.value or "")) for cell in column[1:] or column)
            sheet.column_dimensions[column[0].column_letter].width = min(max(width, 8), 48) + 1
        sheet.freeze_panes = "C2"
    try:
        book.save(path)
    except OSError as error:
        raise PlatestackError(f"{path}: cannot be written: {error.strerror or error}") from None


def read_quotes(path: Path, made: Materials) -> dict[str, Quote]:
    """Read prices and lead times from a form that was filled in, CSV or XLSX.

    Raises
    ------
    UsageError
        With the line that cannot be used.
    """
    table = [[str(cell if cell is not None else "").strip() for cell in row]
             for row in _table(path)]  # fmt: skip
    head = next(iter(table), [])
    columns = {name: next((i for i, cell in enumerate(head) if cell.startswith(name)), None)
               for name in ("part", *ASKED)}  # fmt: skip
    if None in columns.values():
        raise UsageError(f"{path}: line 1: given {', '.join(head)!r:.120}; allowed: the form "
                         f"{FORMS[0]} or .xlsx that platestack buy writes, filled in")  # fmt: skip
    part, price, lead = (columns[name] or 0 for name in ("part", *ASKED))
    known = {line.number for line in made.lines}
    found: dict[str, Quote] = {}
    for number, row in enumerate(table[1:], 2):
        row = [*row, *[""] * (len(head) - len(row))]
        if not row[part] or not (row[price] or row[lead]):
            continue
        where = f"{path}: line {number}"
        if row[part] not in known or row[part] in found:
            raise UsageError(f'{where}: given part "{row[part]:.40}"; allowed: each part of the '
                             "case once")  # fmt: skip
        found[row[part]] = Quote(_number(where, ASKED[0], row[price], LARGEST),
                                 _days(where, row[lead]))  # fmt: skip
    if not found:
        raise UsageError(f"{path}: no price is filled in; allowed: at least one")
    return found


def begun(path: Path, made: Materials) -> bool:
    """Whether a form holds any answer; also where it is there and cannot be read."""
    if not path.exists():
        return False
    try:
        read_quotes(path, made)
    except UsageError as error:
        return "no price is filled in" not in str(error)
    return True


def _table(path: Path) -> Iterable[Sequence[Any]]:
    if path.suffix.lower() != ".xlsx":
        text = case_file.text_of(path)
        dialect = ";" if text.partition("\n")[0].count(";") > text.partition("\n")[0].count(",") \
            else ","  # fmt: skip
        try:
            return list(csv.reader(text.splitlines(), delimiter=dialect))
        except csv.Error as error:
            raise UsageError(f"{path}: cannot be read ({error})") from None
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
        table = [list(row) for row in book.worksheets[0].iter_rows(values_only=True, max_row=5000)]
        book.close()
    except Exception as error:  # a parser of packed XML fails in many ways
        reason = getattr(error, "strerror", None) or "it is no workbook"
        raise UsageError(f"{path}: cannot be read: {reason}") from None
    return table


def _number(where: str, name: str, text: str, most: float) -> float | None:
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= most:
        raise UsageError(f'{where}: {name}: given "{text:.40}"; allowed: a number such as 120.50, '
                         "without a currency, or nothing")  # fmt: skip
    return value


def _days(where: str, text: str) -> int | None:
    value = _number(where, ASKED[1], text, MOST_LEAD)
    if value is None:
        return None
    if value != int(value):
        raise UsageError(f'{where}: {ASKED[1]}: given "{text:.40}"; allowed: whole days')
    return int(value)
