# Step 2 of 3 (see mixed_data.py): random intercepts of the cases by lme4, Laplace and 25 nodes.
# Run: Rscript mixed_peers.R DIR   ->  DIR/caseNNN.fit, lines "name,value,value,..", 17 digits

suppressMessages(library(lme4))
folder <- commandArgs(TRUE)[1]
line <- function(name, values) paste(c(name, sprintf("%.17g", values)), collapse = ",")

for (file in list.files(folder, "^case[0-9]+\\.csv$", full.names = TRUE)) {
  data <- read.csv(file)
  about <- strsplit(readLines(sub("csv$", "kind", file), warn = FALSE), ",")[[1]]
  # Separated data have no finite estimates; R's own log-log link is not one of lme4's.
  if (about[1] == "separated" || about[2] == "loglog") next
  x <- as.matrix(data[, grep("^x", names(data))])
  out <- character(0)
  terms <- switch(about[1], nested = "(1 | bay) + (1 | tray)", crossed = "(1 | bay) + (1 | row)", "(1 | tray)")
  model <- as.formula(paste("cbind(rooted, stuck - rooted) ~ 0 + x +", terms))
  family <- binomial(about[2])
  control <- glmerControl(optimizer = "bobyqa", optCtrl = list(maxfun = 1e5, rhoend = 1e-9), tolPwrss = 1e-11,
                          check.conv.grad = "ignore", check.conv.singular = "ignore", check.conv.hess = "ignore",
                          check.nobs.vs.nlev = "ignore", check.nobs.vs.rankZ = "ignore", check.nobs.vs.nRE = "ignore",
                          check.rankX = "ignore", check.scaleX = "ignore")
  for (nodes in if (about[1] %in% c("nested", "crossed")) 1 else c(1, 25)) {
    if (nrow(data) > 1000 && nodes > 1) next
    fit <- tryCatch(suppressWarnings(suppressMessages(glmer(model, data, family, nAGQ = nodes, control = control))),
                    error = function(e) NULL)
    if (is.null(fit)) next
    sd <- sapply(VarCorr(fit), function(v) attr(v, "stddev"))
    wanted <- switch(about[1], nested = c("bay", "tray"), crossed = c("bay", "row"), "tray")
    names(sd) <- sub("\\..*", "", names(sd))
    out <- c(out, line(paste0("coef", nodes), fixef(fit)), line(paste0("sd", nodes), sd[wanted]))
    if (nodes == 1) out <- c(out, line("loglik1", as.numeric(logLik(fit))))
  }
  writeLines(out, sub("csv$", "fit", file))
}
cat(as.character(packageVersion("lme4")), R.version.string, "\n")
