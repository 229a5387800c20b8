# Values for values/tables.json from R: exact r x c tests, Cochran-Mantel-Haenszel tests.
# Called by tables.py beside this file: Rscript tables.R cases.json-like lines on standard input, answers on standard output.
# Each input line: kind;shape;counts. Each output line: numbers with 17 digits, "NA" where there is none.
options(digits = 17, warn = -1)
text <- function(x) paste(formatC(as.numeric(x), digits = 17, format = "g"), collapse = ";")
attempt <- function(expr) tryCatch(expr, error = function(e) NA)
for (line in readLines(file("stdin"))) {
  parts <- strsplit(line, ";", fixed = TRUE)[[1]]
  shape <- as.integer(strsplit(parts[2], ",")[[1]])
  counts <- as.numeric(strsplit(parts[3], ",")[[1]])
  if (parts[1] == "table") {
    m <- matrix(counts, nrow = shape[1], byrow = TRUE)
    p <- attempt(fisher.test(m, workspace = 2e7)$p.value)
    chi <- chisq.test(m, correct = FALSE)
    out <- c(p, chi$statistic, chi$p.value)
  } else if (parts[1] == "strata") {
    # counts run over columns fastest, then rows, then strata
    a <- aperm(array(counts, c(shape[2], shape[1], shape[3])), c(2, 1, 3))
    if (shape[1] == 2 && shape[2] == 2) {
      plain <- mantelhaen.test(a, correct = FALSE)
      corrected <- mantelhaen.test(a, correct = TRUE)
      exact <- attempt(mantelhaen.test(a, exact = TRUE))
      whole <- if (is.list(exact)) c(exact$p.value, exact$estimate, exact$conf.int) else rep(NA, 4)
      out <- c(plain$statistic, plain$p.value, corrected$statistic, corrected$p.value, plain$estimate,
               plain$conf.int, whole)
    } else {
      general <- attempt(mantelhaen.test(a))
      out <- if (is.list(general)) c(general$statistic, general$parameter, general$p.value) else rep(NA, 3)
    }
  } else {
    rooted <- counts[seq_len(shape[1])]
    stuck <- counts[shape[1] + seq_len(shape[1])]
    scores <- counts[2 * shape[1] + seq_len(shape[1])]
    t <- prop.trend.test(rooted, stuck, scores)
    out <- c(t$statistic, t$p.value)
  }
  cat(text(out), "\n", sep = "")
}
