# Step 2 of 3 (see generated_fits.py): penalised fits by brglm2.
# Run: Rscript generated_fits.R DIR   ->  DIR/caseNNN.fit, lines "name,value,value,..", 17 digits

suppressMessages(library(brglm2))
folder <- commandArgs(TRUE)[1]
line <- function(name, values) paste(c(name, sprintf("%.17g", values)), collapse = ",")

for (file in list.files(folder, "^case[0-9]+\\.csv$", full.names = TRUE)) {
  link <- readLines(file, n = 1)
  data <- read.csv(file, skip = 1)
  x <- as.matrix(data[, grep("^x[0-9]", names(data)), drop = FALSE])
  # Columns made orthogonal, for the digits; turned back below.
  scale <- apply(abs(x), 2, max)
  qr <- qr(sweep(x, 2, scale, "/"), LAPACK = FALSE, tol = 1e-12)
  q <- qr.Q(qr)
  family <- binomial(link)
  fit <- suppressWarnings(glm(data$y / data$m ~ 0 + q, family = family, weights = data$m * data$w, offset = data$o,
             method = "brglmFit", type = "MPL_Jeffreys", epsilon = 1e-13, maxit = 20000, slowit = 0.5))
  if (!fit$converged) cat(file, "has not converged\n")
  eta <- drop(q %*% coef(fit)) + data$o
  p <- family$linkinv(eta)
  loglik <- sum(data$w * dbinom(data$y, data$m, p, log = TRUE))
  b <- backsolve(qr.R(qr), coef(fit)[qr$pivot]) / scale
  writeLines(c(line("coef", b), line("loglik", loglik)), sub("csv$", "fit", file))
}
cat(as.character(packageVersion("brglm2")), R.version.string, "\n")
