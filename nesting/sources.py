"""Where usual values come from, in the words that help and schema show beside them."""

from __future__ import annotations

NO_SOURCE = "common practice, no source"
"""A figure of the trade that no published standard or book was found for."""

SAW_KERFS = "circular saw 2.4 to 3.2 mm, bandsaw 0.6 to 1.1, chain saw 6 or more"
"""Trade texts, several, without a standard behind them: a circular saw 1/8 in, a thin blade 3/32;
a bandsaw 0.025 to 0.045 in; a chain saw 1/4 in and more."""

USUAL_SLOPE = 12.0
"""Steepest grain of a part that says nothing, 1 in this many (common practice, no source). It
leaves about 85 % of the bending strength of straight grain (USDA Wood Handbook FPL-GTR-282, 2021,
between the rows of Table 5-12)."""

LIMBER_SOURCE = "Rules for the construction of vessels, Great Lakes underwriters, 1866"
"""Limber holes 1 3/4 x 3 1/2 in in vessels of 300 tons, in proportion for others (solid floors,
p. s019): half as high as wide."""

BOLT_SOURCE = NO_SOURCE
"""Builders' accounts of small craft have bronze bolts of 1/4, 5/16 and 3/8 in in frames and knees,
keel bolts of 1/2 to 3/4 in; no rule was found."""
