# Times of general packages for laws_side_by_side.py: Rscript laws_peers.R FOLDER
suppressMessages({library(pscl); library(ordinal)})
folder <- commandArgs(TRUE)[1]
least <- function(work) min(sapply(1:3, function(round) system.time(work())[["elapsed"]]))
counts <- read.csv(file.path(folder, "counts.csv")); counts$group <- factor(counts$group)
time <- least(function() fit <<- hurdle(count ~ x + group | x + group, counts, dist = "negbin"))
cat("hurdle", 1000 * time, format(fit$loglik, digits = 15), "\n")
time <- least(function() fit <<- hurdle(count ~ group | group, counts, dist = "negbin"))
cat("groups", 1000 * time, format(fit$loglik, digits = 15), "\n")
grades <- read.csv(file.path(folder, "grades.csv")); grades$group <- factor(grades$group); grades$count <- factor(grades$count, ordered = TRUE)
time <- least(function() fit <<- clm(count ~ x + group, data = grades))
cat("grades", 1000 * time, format(fit$logLik, digits = 15), "\n")
