"""A report of trials or of results: a web page, a Word document, Markdown or LaTeX, by the ending of its name."""

# The room, in reading order:
# ``report``: what is written, and into which kind of file
# ``document``: what a report says, whatever file it becomes
# ``parts``: results by their trial, cautions of each
# ``words``: the question of a result, methods said once
# ``titles``: what a report is about
# ``tables``, ``footnotes``: a table as a journal prints it, and what stands below it
# ``along``: a curve strength by strength, and the shapes averaged
# ``next_steps``: what to do next
# ``beside_layout``: answers about a plan that are of other trays than its layout
# ``readers``: what helps a program alone is left out
# ``lacking``: what a write-up still lacks
# ``columns``: how wide the columns of a table on paper are
# ``page``, ``word``, ``markdown``, ``latex``: the report as each kind of file
# ``references``: works cited, for programs that keep them
# ``files``: the file: its name, what it may replace, and how it is written

from rootling.report.lacking import lacking
from rootling.report.references import references
from rootling.report.report import write

__all__ = ["lacking", "references", "write"]
