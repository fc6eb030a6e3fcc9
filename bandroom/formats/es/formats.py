"""Spanish as it is written in the United States and in Mexico: a point before decimals, a 12-hour clock.

As in the Unicode CLDR, locales es_US and es_MX, which the tests read. Dates are Django's own for Spanish.
"""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
TIME_FORMAT = "g:i a"
