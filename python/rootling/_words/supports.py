"""What of a method each work supports: the words behind which it is cited.

Of each work, by its first author and year, patterns in the order in which they are tried. Works whose authors the
paragraph calls by name are cited there unless a pattern says otherwise.
"""

from __future__ import annotations

__all__ = ["SUPPORTS"]

WILSON = r"Wilson (?:intervals?|limits)(?: on the effective number of cuttings| on effective plants(?: of both)?)?"
TREND = r"Cochran-Armitage test|statistic of Cochran and Armitage"
RANDOM = r"(?:draws of random|all possible|all [\d,]+) assignments"
EFFECTIVE = r"effective numbers? of cuttings|(?:score|test) on effective cuttings|effective cuttings|design effect"
UNIT = r"The experimental unit was the [\w ]+?(?: \([^)]*\))?(?=[.:,;])"
AKAIKE = (
    r"weighted by Akaike's criterion with correction for few units|averaged over the fitted shapes by Akaike's weights"
)

SUPPORTS: dict[str, tuple[str, ...]] = {
    "Aalen 1978": (r"Aalen and Johansen", r"cumulative incidences"),
    "Altman 1994": (r"sensitivity, specificity(?: and likelihood ratios)?",),
    "Ang 2004": (r"logarithmic means",),
    "Armitage 1955": (TREND,),
    "Armitage 1969": (r"so that all looks together alarm in [\d.]+ %",),
    "Atkinson 2007": (r"confidence region \(D-optimal\)", r"c-optimal"),
    "Ayer 1955": (r"takes that only rise along the strengths",),
    "Bailey 1987": (r"the set of the plan",),
    "Begg 1983": (r"every outcome was allowed",),
    "Bell 2002": (r"Bell and McCaffrey", r"corrected for the share of each batch", r"linearisation with t"),
    "Blaker 2000": (r"Blaker's(?= form)", r"Blaker's"),
    "Boschloo 1970": (r"orders the tables by the P value of Fisher's exact test",),
    "Box 1954": (r"the region of the top over both",),
    "Brook 1972": (r"the law of the sum",),
    "Brookmeyer 1982": (r"at which the limits of the share hold a half",),
    "Buckland 1997": (r"rates were averaged by these weights", AKAIKE),
    "Cicchetti 1990": (r"on each answer",),
    "Cochran 1954": (TREND, r"generalised test of Cochran, Mantel and Haenszel"),
    "Cochran 1977": (r"ratio estimates",),
    "Cohen 1960": (r"as kappa", r"kappa"),
    "Cook 1977": (r"the change of the expected rates without it",),
    "Cox 1987": (r"adjusted likelihood", r"the likelihood adjusted for the rates"),
    "Crump 1984": (r"deaths exceed those at the lowest strength by [\d.]+ [a-z]+ per 100",),
    "Das Gupta 1993": (r"averaged over all orders of change",),
    "Dauncey 2015": (r"by its profile likelihood", r"profile likelihood", r"averaged over shapes"),
    "DerSimonian 1986": (r"an additive spread between units by moments",),
    "Donner 1986": (r"from the F distribution",),
    "Donner 1989": (r"Donner's chi-square",),
    "Donner 2000": (
        EFFECTIVE,
        r"analysis of variance",
        r"beta-binomial",
        UNIT,
    ),
    "Dunn 1961": (r"each interval has a level of [\d.]+ %",),
    "Dunn 1996": (r"Quantile residuals",),
    "Feinstein 1990": (r"on each answer",),
    "Fieller 1954": (r"Fieller's",),
    "Finney 1971": (r"the first-order standard error", r"all with one form at different places"),
    "Firth 1993": (r"by penalised likelihood", r"penalised likelihood"),
    "Fisher 1935": (
        r"randomisation test",
        r"deals the trays to the two levels anew",
        r"Fisher's exact test",
        r"was drawn by a seeded generator",
        r"dealing trays to levels anew",
        r"dealing (?:the )?trays (?:out )?(?:again|anew)",
        r"The difference of mean tray rates",
    ),
    "Fleiss 1969": (r"large-sample standard error",),
    "Gandy 2013": (r"as far from the baseline as nine in ten estimates are",),
    "Gramm 2008": (r"letters by Piepho 2004",),
    "Freeman 1951": (r"Freeman-Halton (?:by drawn tables|exact test)", r"exact test of Freeman and Halton"),
    "Greenland 1985": (r"(?<=by )Greenland and Robins",),
    "Hartigan 1969": (r"all shifts of the second arm that both one-sided tests keep",),
    "Higgins 2009": (r"Limits of a new season",),
    "Hurlbert 1984": (UNIT,),
    "Hurvich 1989": (AKAIKE,),
    "Iyer 2004": (r"generalised pivotal quantities",),
    "Kaplan 1958": (r"Plants followed no further count until then",),
    "Kitagawa 1955": (r"taken apart into parts that add up",),
    "Korn 1998": (
        r"with a t quantile",
        r"interval on effective cuttings with t",
        r"effective plants(?: of both)?,? (?:from leaving[^.]*?by|with) t",
    ),
    "Lambert 1992": (r"with zeros added",),
    "Lan 1982": (r"those to come drawn [\d,]+ times",),
    "Lancaster 1961": (r"mid-P forms?",),
    "Lane 1982": (r"averaged over the other factors with equal weights", r"expected rates of new rows"),
    "Lucas 1990": (r"exponentially weighted average",),
    "MacKinnon 1985": (r"residuals are freed of what kinds take up",),
    "Mantel 1959": (
        r"weighted by n1 n2 / \(n1 \+ n2\)",
        r"generalised test of Cochran, Mantel and Haenszel",
        r"its variance times N / \(N - 1\)",
        r"\(N - 1\) r\^2 is a chi-square with 1 degree of freedom",
    ),
    "Mantel 1966": (r"log-rank",),
    "McCullagh 1989": (r"binomial regression with [a-z-]+ link",),
    "Miettinen 1985": (
        r"Miettinen-Nurminen",
        r"by a score statistic",
        r"with the variance estimated under the margin",
        r"limits and tests come from scores",
    ),
    "Mullahy 1986": (r"in two parts",),
    "Nelder 1977": (r"asked by the interaction with \w+",),
    "Pearson 1900": (r"Pearson's chi-square",),
    "Peto 1972": (r"log-rank",),
    "Phipson 2010": (RANDOM, r"dealing trays to levels anew"),
    "Prentice 1978": (r"Prentice and Gloeckler",),
    "Rao 1984": (r"Rao-Scott of first order", r"\(Rao and Scott, [a-z ]+"),
    "Ridout 1998": (r"how the two vary together is in the totals", r"any or none"),
    "Rao 1992": (r"Rao-Scott chi-square", r"\(Rao and Scott, [a-z ]+"),
    "Schuirmann 1987": (r"one-sided score tests",),
    "Searle 1971": (r"from the F distribution",),
    "Siegmund 1988": (r"the set of weeks and the places rest on crops drawn from the baseline",),
    "Steiner 2000": (r"cumulative sums of log likelihood ratios",),
    "Thomas 1987": (r"Rao-Scott of second order", r"judged by F with [\w ]+ in the denominator"),
    "Tukey 1958": (
        r"Leaving out one batch at a time",
        r"from leaving out one tray after the other",
        r"Limits come from leaving out trays",
    ),
    "Viechtbauer 2007": (r"a Q profile",),
    "Viechtbauer 2010": (r"held against what the others lead to expect of a further season",),
    "Wilks 1938": (
        r"the change of the deviance",
        r"likelihood-ratio test",
        r"whose likelihood ratio stays below the critical value",
        r"limits come from its profile likelihood",
    ),
    "Wilson 1927": (WILSON,),
    "Yates 1938": (r"Each season's difference was judged by its own units",),
    "Zhang 2015": (r"the law of the sum given no signal",),
    "Zou 2008": (r"Limits of a difference", r"limits of their difference by square and add", r"square and add"),
}
