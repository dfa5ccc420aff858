"""What can hurt somebody who works by a plan: one text for sheets, terminal, help and README.

Each caution has its sources beside it; cut sheets carry a short form of them all. Limits in
figures are left out: they differ from country to country, and a builder at home is hurt all the
same.
"""

from __future__ import annotations

from dataclasses import dataclass

HEADING = "Before anything is cut. A plan is a proposal, and local rules come first."

IN_BRIEF = (
    "A plan is a proposal: metal hides, old paint and dust poison, stressed timber kicks back,\n"
    "and structural timber is for licensed practice. Local rules come first."
)
"""For the help of the command line, in its width."""


@dataclass(frozen=True)
class Caution:
    """One danger: what it is about, what to do, and where each fact of it stands, if anywhere."""

    about: str
    full: str
    sources: tuple[str, ...]


HIDDEN_METAL = Caution(
    "Hidden metal",
    "Run a metal detector over every board again before each pass: careful work with one still "
    "leaves about one fastener in twenty behind.",
    (
        "about 95 % of hidden metal is found: a reclaimed timber mill's own account",
        "before each pass: common practice, no source",
    ),
)

OLD_PAINT = Caution(
    "Old paint",
    "Until a test says otherwise it holds lead, and old bottom paint copper, tin, arsenic or "
    "mercury. Scrape it wet over a sheet, in a fitted respirator (P3 or P100), no children near; "
    "no dry sanding, no burning, no torch. Wipe up wet or with a HEPA vacuum, never with a broom. "
    "The waste goes to a hazardous-waste site; painted or treated wood into no stove.",
    (
        "scraping and sanding lead paint by hand is taken as 50 to 500 microgram/m3 until "
        "measured, the limit being 50: OSHA 29 CFR 1926.62(c)(1), (d)(2)(i)",
        "red lead and white lead on hulls; children poisoned by paint flaking off boats in back "
        "yards: Australian environment department (DCCEEW), lead in marine paints",
        "bottom paint of copper, tin, arsenic or mercury: IMO background text on anti-fouling "
        "systems, 2002",
        "over a sheet: New York Sea Grant, marina pollution prevention, bottom painting",
        "scrapings not in household rubbish, a hazardous-waste site: New Zealand EPA, painting "
        "your boat",
        "no open flame, no dry power sanding without HEPA extraction: EPA 40 CFR 745.85(a)(3), "
        "by an account of it",
        "treated wood not burned in fire or stove: Washington Dept. of Ecology, treated wood waste",
        "scraping wet, P3 and P100, wet wiping and HEPA vacuum in place of a broom: from memory "
        "(29 CFR 1926.62(f), (h))",
    ),
)

OLD_COMPOUNDS = Caution(
    "Old bedding, caulking, sheathing",
    "They may hold lead, mercury or asbestos, as may lagging, gaskets and boards round stove and "
    "engine: leave them whole until a laboratory has seen a sample. Asbestos is for those whom "
    "the rules let touch it.",
    (
        "salvage of vessels that hold asbestos has its own rule: OSHA 29 CFR 1915.1001(a)(1)",
        "asbestos in lagging, gaskets and boards of old boats: common practice, no source",
        "lead, mercury and asbestos in bedding, caulking and sheathing: from memory",
    ),
)

WOOD_DUST = Caution(
    "Wood dust",
    "It causes cancer of the nose, and asthma; oak, mahogany, teak and cedar are named for it. "
    "Draw it off at the machine, and wear a respirator for the rest.",
    (
        "cancer: IARC monographs vol. 62 sec. 5.5, kept in vol. 100C; asthma, western red cedar "
        "above all: vol. 62 sec. 5.4",
        "oak confirmed, mahogany and teak suspected carcinogens: ACGIH, on the OSHA sheet for "
        "wood dust (2012)",
        "carpenters and joiners get asthma four times as often as others: HSE wood dust page",
        "respirator for the rest: common practice, no source",
    ),
)

KICKBACK = Caution(
    "Kickback",
    "Old fastened timber is under stress: it closes on the blade and is thrown back. Make a "
    "relief cut first; keep guard and spreader on, use push sticks, stand out of the blade's line.",
    (
        "hood, and spreader against closing and throwing back: OSHA 29 CFR 1910.213(c)(1), (2)",
        "push sticks or blocks at hand: California title 8 sec. 4300.1(c)",
        "stress, relief cut, out of the line: common practice, no source",
    ),
)

TAKING_APART = Caution(
    "Taking apart",
    "A hull gets weaker with every piece: shore her before beams come out, and work under nothing "
    "that is not shored.",
    (
        "survey before demolition, bracing of what is damaged: OSHA 29 CFR 1926.850(a), (b)",
        "shoring a hull: common practice, no source",
    ),
)

STRUCTURE = Caution(
    "Structure",
    "Structural timber, and any part a life hangs on, is for licensed practice: a designer's, "
    "grader's or surveyor's word.",
    (
        "reclaimed timber stands in no US grading or design standard, a grader or engineer has to "
        "be found: Falk, Cramer, Evans, Forest Products J. 62(7/8), 2013, 492-499 (abstract)",
    ),
)

METAL_FUME = Caution(
    "Bronze",
    "Melting, brazing, welding and torch-cutting bronze, brass or copper give off fume of zinc and "
    "copper; metal fume fever comes hours later. Draw the fume off, and wear a respirator made "
    "for it. Old bronze of unknown make may hold beryllium or lead: do not melt, grind or dry-sand "
    "it until its alloy is known.",
    (
        "zinc oxide fume, metal fume fever hours after: OSHA sheet CH 277000",
        "copper fume, 0.1 mg/m3: NIOSH copy of OSHA's 1989 comments",
        "beryllium, 0.2 microgram/m3: OSHA rule of 9 January 2017 (29 CFR 1910.1024(c)), by three "
        "accounts of it",
        "old bronze of unknown make: common practice, no source",
    ),
)

CAUTIONS = (
    HIDDEN_METAL, OLD_PAINT, OLD_COMPOUNDS, WOOD_DUST, KICKBACK, TAKING_APART, STRUCTURE,
)  # fmt: skip
"""Those that every plan tells; that of metal is told where metal is worked."""


IN_SHORT = (
    "Local rules first. Hidden metal: detect again before every cut.",
    "Old paint, seams, sheathing: lead, mercury, asbestos; wet-scrape in a P3/P100 respirator; "
    "no sanding, fire or broom.",
    "Dust harms. Old wood kicks back. Structure: licensed practice.",
)
"""For the corner of a cut sheet: four lines of it, so that nothing on the sheet is drawn smaller.
The overview beside the sheets has the rest."""
