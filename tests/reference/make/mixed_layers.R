# Step 2 of 3 (see mixed_layers.py): random intercepts of trays and of every other grouping, by lme4 and glmmTMB (Laplace).
# Run: Rscript mixed_layers.R DIR   ->  DIR/NN.fit, lines "name,value,..", 17 digits
suppressMessages({library(lme4); library(glmmTMB)})
folder <- commandArgs(TRUE)[1]
line <- function(name, values) paste(c(name, sprintf("%.17g", values)), collapse = ",")
better <- function(fits) fits[[which.max(sapply(fits, function(f) as.numeric(logLik(f))))]]
for (file in list.files(folder, "^[0-9]+\\.csv$", full.names = TRUE)) {
  data <- read.csv(file)
  data$strength <- factor(data$strength)
  groups <- setdiff(names(data), c("rooted", "stuck", "strength"))
  model <- as.formula(paste("cbind(rooted, stuck - rooted) ~ strength +", paste0("(1 | ", groups, ")", collapse = " + ")))
  quiet <- list(check.conv.grad = "ignore", check.conv.singular = "ignore", check.conv.hess = "ignore", tolPwrss = 1e-11)
  control <- function(...) do.call(glmerControl, c(list(...), quiet))
  fits <- suppressWarnings(suppressMessages(list(
    glmer(model, data, binomial, control = control(optimizer = "bobyqa", optCtrl = list(maxfun = 1e5, rhoend = 1e-9))),
    glmer(model, data, binomial, control = control(optimizer = "Nelder_Mead", optCtrl = list(maxfun = 1e5))))))
  fit <- better(fits)
  sd <- sapply(VarCorr(fit)[groups], function(v) attr(v, "stddev"))
  other <- tryCatch(suppressWarnings(glmmTMB(model, data, binomial)), error = function(e) NULL)
  found <- if (is.null(other)) NA else as.numeric(logLik(other))
  writeLines(c(line("coef", fixef(fit)), line("sd", sd), line("loglik", as.numeric(logLik(fit))),
               line("loglik_other", if (is.na(found)) -1e300 else found)), sub("csv$", "fit", file))
}
