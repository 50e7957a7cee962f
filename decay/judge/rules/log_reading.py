"""Findings about how the file was read: guesses that change the answer, and rows that were left out."""

from __future__ import annotations

from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer

# Below this share of rows left out nobody needs to be told twice: the notes say it.
SMALL_SHARE = 0.05


def notes_of(case: Case, *starts: str) -> tuple[str, ...]:
    """Return what the reader noted under codes that begin so, each with its line."""
    return tuple(note.text if note.line is None else f"Line {note.line}: {note.text}"
                 for note in case.log.notes if note.code.startswith(starts))


def unit_guessed(case: Case) -> Answer:
    """
    What it looks for
        A unit of pressure or of time that the file does not state and that was inferred from the numbers.
    Why it matters
        A wrong unit is wrong by a factor of 7.5, 60 or 1000, and every number of the answer with it.
    When it is wrong
        Never: it states a guess. The guess itself goes wrong for logs that lack atmosphere and a deep vacuum.
    Example log
        A column "Vacuum" with numbers from 760000 down to 280 and no unit anywhere.
    What to do
        Give the unit with --unit, or that of the time column with the option that the finding names.
    References
        1 micron is 1 µmHg = 0.133322 Pa; 1 mbar = 750.06 micron.
    """
    texts = notes_of(case, "unit-guess", "unit-infer", "unit-assum", "time-unit")
    return tuple(Finding("L01", Level.CAVEAT, text) for text in texts)


def gauge_chosen(case: Case) -> Answer:
    """
    What it looks for
        A log with several pressure columns, one of which was chosen.
    Why it matters
        A gauge at the pump shows what the pump does, not what the system holds.
    When it is wrong
        Names and readings do not always show where a gauge sits.
    Example log
        Columns "pump side" and "far end": the far end is judged.
    What to do
        Name the gauge on the system's far side with --gauge.
    References
        Common practice, no source: read the vacuum as far from the pump as can be reached.
    """
    if not case.log.other_gauges:
        return ()
    texts = notes_of(case, "gauge-")
    text = texts[0] if texts else f'The gauge "{case.log.gauge}" was judged; the log has others.'
    return (Finding("L02", Level.CAVEAT, text),)


def clock_mended(case: Case) -> Answer:
    """
    What it looks for
        Times that were mended or decided: the order of day and month, a clock that stepped, rows out of order.
    Why it matters
        A rate is pressure over time; a clock that jumps in the hold bends it.
    When it is wrong
        When the step lies outside every hold, it changes nothing that is judged.
    Example log
        Rows that go from 01:59:59 to 01:00:00 on the night when summer time ends.
    What to do
        Compare the length of the hold with what you remember.
    References
        ISO 8601 writes dates so that they cannot be mistaken.
    """
    return tuple(
        Finding("L03", Level.NOTE, text)
        for text in notes_of(case, "clock", "time-d", "time-c", "time-f", "duplicate-time", "date", "dst", "midnight")
    )


def rows_left_out(case: Case) -> Answer:
    """
    What it looks for
        Rows of the file that could not be used, where they are more than one in twenty.
    Why it matters
        Readings that are missing cannot speak; if they are missing for a reason, the others mislead.
    When it is wrong
        Repeated headers and comment lines count as rows in some files and mean nothing.
    Example log
        A thousand rows of which two hundred have an empty pressure.
    What to do
        See the notes: each says which rows and why.
    References
        None.
    """
    out = case.log.rows - len(case.log.time)
    if case.log.rows == 0 or out <= SMALL_SHARE * case.log.rows:
        return ()
    summary = f"{out:,} of {case.log.rows:,} rows could not be used; the notes say why."
    return (Finding("L04", Level.CAVEAT, summary, {"rows_left_out": float(out)}),)


def words_guessed(case: Case) -> Answer:
    """
    What it looks for
        Words or numbers in the pressure column that were taken for "above the gauge's range", or for "no reading".
    Why it matters
        Taken the wrong way, a hold that ran off the gauge looks like one with gaps, or the other way round.
    When it is wrong
        Where the gauge's manual says what the word means, the guess is not needed.
    Example log
        A column that reads "OL" between 24,800 and 24,900 micron.
    What to do
        Declare the word with --over-range.
    References
        None.
    """
    return tuple(Finding("L05", Level.CAVEAT, text) for text in notes_of(case, "over-range-guess", "sentinel"))


def valve_stated(case: Case) -> Answer:
    """
    What it looks for
        A column of the log that says when the valve was closed or opened.
    Why it matters
        The closing is then known, and not found from the readings.
    When it is wrong
        Where the column is about another valve than the one to the pump.
    Example log
        A column "valve" that goes from OPEN to CLOSED.
    What to do
        If it is another valve, state the hold with --hold.
    References
        None.
    """
    return tuple(Finding("L08", Level.NOTE, text) for text in notes_of(case, "valve-stated"))


def wrong_readings(case: Case) -> Answer:
    """
    What it looks for
        Single readings far from those before and after them, which agree: a zero, a full scale, a code.
    Why it matters
        No pressure can have made them, so they were left out. Many of them say that a plug or a cable is loose.
    When it is wrong
        A log of a reading a minute may show a short let-in of gas in one reading; two readings or more are kept.
    Example log
        99999 in every fiftieth row of a quiet hold.
    What to do
        Look at the rows that the note names, and at the plug of the gauge.
    References
        None.
    """
    return tuple(Finding("L09", Level.NOTE, text) for text in notes_of(case, "reading-wrong"))
