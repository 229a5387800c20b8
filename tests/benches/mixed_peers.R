# Seconds of one fit: Rscript mixed_peers.R random|nested|beta FILE.csv   (lme4 or glmmTMB; see models_side_by_side.py)
given <- commandArgs(TRUE)
data <- read.csv(given[2])
data$strength <- factor(data$strength)
counts <- cbind(rooted, stuck - rooted) ~ strength
job <- switch(given[1],
  random = { suppressMessages(library(lme4)); function() glmer(update(counts, . ~ . + (1 | tray)), data, binomial) },
  nested = { suppressMessages(library(lme4)); function() glmer(update(counts, . ~ . + (1 | bay) + (1 | tray)), data, binomial) },
  beta = { suppressMessages(library(glmmTMB)); function() glmmTMB(counts, data, family = betabinomial) })
cat(system.time(fit <- suppressWarnings(suppressMessages(job())))[["elapsed"]], as.numeric(logLik(fit)), "\n")
