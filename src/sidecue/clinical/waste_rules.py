"""US rules on amalgam waste: 40 CFR 441, as printed in the Federal Register of 14 June 2017.

Best management practices from padental.org and cda.org.
"""

from __future__ import annotations

from datetime import date, timedelta

from sidecue.clinical.quantity import Number, not_negative

EFFECTIVE = date(2017, 7, 14)
COMPLY_BY = date(2020, 7, 14)
REPORT_EXISTING_BY = date(2020, 10, 12)
REPORT_NEW_DAYS = 90
OLD_SEPARATOR_UNTIL = date(2027, 6, 14)
SEPARATOR_PERCENT = 95  # ISO 11143
RECORD_YEARS = 3
CLEANER_PH = (6, 8)


def report_due(opened_or_transferred: date | None) -> date:
    """Return the day the one-time compliance report is due; None means an existing office."""
    if opened_or_transferred is None or opened_or_transferred <= COMPLY_BY:
        return REPORT_EXISTING_BY
    return opened_or_transferred + timedelta(days=REPORT_NEW_DAYS)


def separator_accepted(*, percent: Number, fitted: date, on: date) -> bool:
    """Tell whether a separator may be in use on a day.

    One that keeps 95 % always may; an older one fitted before 14 June 2017 may until its end date.
    """
    if not_negative(percent, "separator efficiency (%)") >= SEPARATOR_PERCENT:
        return True
    return fitted < date(2017, 6, 14) and on <= OLD_SEPARATOR_UNTIL


def line_cleaner_accepted(*, ph: Number, oxidising: bool) -> bool:
    """Tell whether a suction-line cleaner may be used: pH 6 to 8 and no oxidiser such as bleach."""
    least, most = CLEANER_PH
    return not oxidising and least <= not_negative(ph, "pH") <= most
