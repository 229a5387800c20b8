"""A report of trials or of results: one self-contained HTML file, to print or to send."""

# The room, in reading order:
# ``report``: the report, made of the others
# ``parts``: results by their trial, cautions of each
# ``words``: the question of a result, methods said once
# ``files``: the file: its name, and how it is written

from rootling.report.report import write

__all__ = ["write"]
