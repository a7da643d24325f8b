"""Valve seat replacements on 41 diesel engines (Nelson and Doganaksoy 1989; Nelson 1995).

All rows but the last three were read in a stored public copy of the sample program RELGS11 of the
SAS/QC documentation; those three (engines 420 to 422: 586, 585 and 582 days without replacement)
are from memory. Engine: days of replacements, and the last day of its history.
"""

from turnouts.analysis.recurrence.histories import History

_ENGINES: dict[int, tuple[tuple[int, ...], int]] = {
    251: ((), 761), 252: ((), 759), 327: ((98,), 667), 328: ((326, 653, 653), 667),
    329: ((), 665), 330: ((84,), 667), 331: ((87,), 663), 389: ((646,), 653),
    390: ((92,), 653), 391: ((), 651), 392: ((258, 328, 377, 621), 650), 393: ((61, 539), 648),
    394: ((254, 276, 298, 640), 644), 395: ((76, 538), 642), 396: ((635,), 641),
    397: ((349, 404, 561), 649), 398: ((), 631), 399: ((), 596), 400: ((120, 479), 614),
    401: ((323, 449), 582), 402: ((139, 139), 589), 403: ((), 593), 404: ((573,), 589),
    405: ((165, 408, 604), 606), 406: ((249,), 594), 407: ((344, 497), 613),
    408: ((265, 586), 595), 409: ((166, 206, 348), 389), 410: ((), 601), 411: ((410, 581), 601),
    412: ((), 611), 413: ((), 608), 414: ((), 587), 415: ((367,), 603),
    416: ((202, 563, 570), 585), 417: ((), 587), 418: ((), 578), 419: ((), 578), 420: ((), 586),
    421: ((), 585), 422: ((), 582),
}  # fmt: skip

ENGINES = tuple(
    History(str(engine), tuple(float(day) for day in days), float(end))
    for engine, (days, end) in _ENGINES.items()
)
