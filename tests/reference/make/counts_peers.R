# Values for values/counts_peers.json from R: tests of 2 x 2 tables, of pairs, and adjusted P values.
# Called by counts_peers.py beside this file: lines "kind;numbers with commas" on standard input, one line of answers each.
options(digits = 17, warn = -1)
text <- function(x) paste(formatC(as.numeric(x), digits = 17, format = "g"), collapse = ";")
for (line in readLines(file("stdin"))) {
  parts <- strsplit(line, ";", fixed = TRUE)[[1]]
  x <- as.numeric(strsplit(parts[2], ",")[[1]])
  if (parts[1] == "two") {
    m <- matrix(x, nrow = 2, byrow = TRUE)
    p <- sapply(c("two.sided", "less", "greater"), function(side) fisher.test(m, alternative = side, conf.int = FALSE)$p.value)
    plain <- chisq.test(m, correct = FALSE)
    corrected <- chisq.test(m, correct = TRUE)
    out <- c(p, plain$statistic, plain$p.value, corrected$p.value)
  } else if (parts[1] == "pairs") {
    m <- matrix(x, nrow = 2, byrow = TRUE)
    out <- c(mcnemar.test(m, correct = FALSE)$p.value, mcnemar.test(m, correct = TRUE)$p.value,
             binom.test(m[1, 2], m[1, 2] + m[2, 1])$p.value)
  } else {
    out <- unlist(lapply(c("bonferroni", "holm", "hochberg", "hommel", "BH", "BY"), function(how) p.adjust(x, how)))
  }
  cat(text(out), "\n", sep = "")
}
