"""The invented clients."""

import datetime as dt

from demo_clinic.sitting import Person

PEOPLE = {
    "K07": Person(
        "Kara_Inventa",
        dt.date(1981, 5, 14),
        "F",
        (True, dt.date(2026, 1, 20)),
        10.2,
        55.0,
        0.55,
    ),
    "M12": Person(
        "Milo_Inventa",
        dt.date(1974, 11, 2),
        "M",
        (True, dt.date(2026, 1, 27)),
        9.4,
        30.0,
        0.7,
    ),
    "B31": Person(
        "Berta_Inventa",
        dt.date(1992, 8, 23),
        "F",
        (False, dt.date(2026, 2, 2)),
        10.8,
        90.0,
        0.6,
    ),
    "T05": Person(
        "Timo_Inventa",
        dt.date(1966, 3, 9),
        "M",
        (True, dt.date(2026, 2, 3)),
        8.9,
        45.0,
        0.5,
    ),
    "H22": Person(
        "Hanna_Inventa",
        dt.date(1988, 1, 30),
        "F",
        (True, dt.date(2026, 2, 24)),
        10.0,
        40.0,
        0.6,
    ),
}
