"""Numbers that every room shares and none owns: units of time and pressure, and the zero of the Celsius scale."""

MINUTE = 60.0
HOUR = 3600.0
DAY = 86400.0
YEAR = 365.25 * DAY
"""Units of time; the year is the Julian one. [s]"""
MICRON = 0.133322387415
"""A thousandth of a conventional millimetre of mercury (NIST SP 811, table B.8: 133.3224 Pa). [Pa]"""
STANDARD_ATMOSPHERE = 101325.0
"""Exact (10th CGPM 1954, resolution 4). [Pa]"""
ZERO_CELSIUS = 273.15
"""Exact, by definition of the Celsius scale (SI brochure, 9th ed., 2.3.4). [K]"""
ZERO_FAHRENHEIT = 459.67
"""Degrees Fahrenheit from absolute zero to theirs; each is 1/1.8 K (NIST SP 811, B.9). [°F]"""
HIGHEST_READING = 1.2 * STANDARD_ATMOSPHERE
"""A system under evacuation does not stand above it, whatever the weather: such a number is no reading. [Pa]"""
LITRE = 1e-3
"""[m³]"""
