"""A price sheet in a spreadsheet engine, recalculated for one spot after the other.

`office_sheet.py ENGINE FOLDER ROWS`, started by a Python that has the bridge `uno`;
standard library otherwise. A row has 7 inputs and 25 formulas: fine weight, coin, 12
stages, spoilage, recovery, fees, tax, rounding to the price grid and margin. The
figures are invented; only the work they make matters. Prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException

TURNS = 15
START_S = 60
STAGES = 12
# Settings, in the sheet's first row; the spot price is the first of them.
SETTINGS = {
    "spot": 27.50, "grams": 31.1034768, "wear": 0.01, "premium": 0.12, "wage": 41.50,
    "good": 0.78, "buyback": 0.85, "packaging": 1.85, "margin": 0.35, "fee": 0.095,
    "fixed": 0.30, "tax": 0.20, "shipping": 6.50, "step": 5,
}  # fmt: skip
INPUTS = 7  # mass, fineness, size, cleaning factor, face value, slug share, quantity
FIRST_ROW = 4


def column(place: int) -> str:
    """The letters of a column, counted from 0."""
    high, low = divmod(place, 26)
    return (chr(64 + high) if high else "") + chr(65 + low)


def formulas(row: int) -> list[str]:
    """The formulas of one row of the sheet."""
    names = {name: f"${column(place)}$1" for place, name in enumerate(SETTINGS)}
    first = INPUTS
    stages = [
        f"=({3 + stage}+{0.2 + stage / 10:.1f}*C{row})*D{row}/60*{names['wage']}"
        f"*{1 + stage / 100:.2f}+{0.15 + stage / 20:.2f}"
        for stage in range(STAGES)
    ]
    texts = [
        "=A{r}*(1-{wear})*B{r}/{grams}",  # fine weight
        "=MAX(E{r};{fine}*{spot}*(1+{premium}))",  # coin
        *stages,
        "=SUM({stage_1}:{stage_12})",  # bench
        "=F{r}*{fine}*{spot}*{buyback}",  # recovery
        "={coin}+{bench}",  # a start
        "=({start}-{recovery})/{good}",  # a good piece
        "=ROUND({piece}+{packaging};2)",  # cost
        "={cost}*G{r}/(1-{margin})",  # what must be left
        "=({needed}+{fixed}+{shipping})/(1-{fee}*(1+{tax}))",  # with fees
        "=CEILING({net}*(1+{tax})/G{r};{step})-0.1",  # price on the grid
        "=ROUND({price}*G{r}*{fee}+{fixed};2)",  # fees
        "=ROUND({price}*G{r}*{tax}/(1+{tax});2)",  # tax
        "=({price}*G{r}-{paid}-{due}-{shipping}-{cost}*G{r})/({price}*G{r}-{due})",
    ]
    found = ["fine", "coin", *(f"stage_{n + 1}" for n in range(STAGES)), "bench",
             "recovery", "start", "piece", "cost", "needed", "net", "price", "paid",
             "due"]  # fmt: skip
    cells = {name: f"{column(first + n)}{row}" for n, name in enumerate(found)}
    return [text.format(r=row, **names, **cells) for text in texts]


def fill(sheet: object, rows: int) -> int:
    """Write settings, inputs and formulas; the number of formulas in a row."""
    settings = sheet.getCellRangeByPosition(0, 0, len(SETTINGS) - 1, 0)
    settings.setDataArray((tuple(SETTINGS.values()),))
    last = FIRST_ROW - 1 + rows - 1
    inputs = tuple(
        (6.0 + row % 40 / 2, 0.5 + row % 9 / 20, 5.0 + row % 17 / 2,
         1.0 + row % 7 / 20, float(row % 3), 0.15 + row % 5 / 50, 1.0 + row % 2)
        for row in range(rows)
    )  # fmt: skip
    sheet.getCellRangeByPosition(0, FIRST_ROW - 1, INPUTS - 1, last).setDataArray(
        inputs
    )
    written = formulas(FIRST_ROW)
    width = len(written)
    top, right = FIRST_ROW - 1, INPUTS + width - 1
    sheet.getCellRangeByPosition(INPUTS, top, right, top).setFormulaArray(
        (tuple(written),)
    )
    # As a person does: the first row written, and drawn down.
    down = uno.Enum("com.sun.star.sheet.FillDirection", "TO_BOTTOM")
    sheet.getCellRangeByPosition(INPUTS, top, right, last).fillAuto(down, 1)
    return width


def connect(pipe: str) -> object:
    """The engine's desktop, once it is there."""
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", local
    )
    end = time.monotonic() + START_S
    while True:
        try:
            context = resolver.resolve(
                f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext"
            )
        except NoConnectException:
            if time.monotonic() > end:
                raise
            time.sleep(0.1)
        else:
            return context.ServiceManager.createInstanceWithContext(
                "com.sun.star.frame.Desktop", context
            )


def measured(document: object, sheet: object, rows: int) -> dict[str, list[float]]:
    """Seconds for each new spot: what depends on it, and every formula."""
    document.calculateAll()
    spot = sheet.getCellByPosition(0, 0)
    width = len(formulas(FIRST_ROW))
    price = INPUTS + width - 4
    taken: dict[str, list[float]] = {"dirty": [], "all": []}
    before = 0.0
    for turn in range(2 * TURNS):
        spot.setValue(20.0 + turn)
        name = "all" if turn % 2 else "dirty"
        begun = time.perf_counter()
        if turn % 2:
            document.calculateAll()
        else:
            document.calculate()
        # A sheet works out what is looked at: look at every price.
        prices = sheet.getCellRangeByPosition(
            price, FIRST_ROW - 1, price, FIRST_ROW + rows - 2
        ).computeFunction(uno.Enum("com.sun.star.sheet.GeneralFunction", "SUM"))
        taken[name].append(time.perf_counter() - begun)
        if not prices > before:
            raise RuntimeError(f"prices did not follow the spot: {prices}")
        before = prices
    return taken


def memory_mb(folder: Path) -> float:
    """What the engine's process holds [MB]; 0 where the system does not tell."""
    for status in Path("/proc").glob("[0-9]*/cmdline"):
        words = status.read_bytes()
        if str(folder).encode() in words and b"soffice.bin" in words:
            pages = (status.parent / "statm").read_text().split()[1]
            return int(pages) * 4096 / 1e6
    return 0.0


def main() -> None:
    office, folder, rows = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    pipe = folder.name
    engine = subprocess.Popen(
        [office, "--headless", "--norestore", "--nologo", "--nodefault",
         f"-env:UserInstallation={folder.as_uri()}",
         f"--accept=pipe,name={pipe};urp;"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    try:
        desktop = connect(pipe)
        hidden = PropertyValue(Name="Hidden", Value=True)
        document = desktop.loadComponentFromURL(
            "private:factory/scalc", "_blank", 0, (hidden,)
        )
        document.enableAutomaticCalculation(False)  # noqa: FBT003 - its own way
        sheet = document.Sheets.getByIndex(0)
        told: dict[str, object] = {"formulas": fill(sheet, rows)}
        told |= measured(document, sheet, rows)
        told["memory_mb"] = memory_mb(folder)
        told["engine"] = subprocess.run(
            [office, "--version"], capture_output=True, text=True, check=False
        ).stdout.strip()
        print(json.dumps(told))
        document.close(False)  # noqa: FBT003 - its own way
        desktop.terminate()
        engine.wait(timeout=START_S)
    finally:
        if engine.poll() is None:  # the program that was started starts another
            os.killpg(engine.pid, signal.SIGKILL)


if __name__ == "__main__":
    main()
