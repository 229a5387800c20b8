# Makes values/diagnostics.json: what R's glm says of single counts, at 17 digits.
# Needs base R only. Run from the top of the project: Rscript tests/reference/make/diagnostics.R
#
# Crowder's seed plates (seed + extract, binomial and quasi-binomial), the invented trays (block + strength) and low birth weight (single
# births). hatvalues, cooks.distance, residuals and the change of the fitted rates without each count come from R; the groups of the
# Hosmer-Lemeshow test are formed here by the rule stated in src/diagnostics/calibration.rs, the test of the squared linear
# predictor is anova's likelihood ratio.

read <- function(name) read.csv(file.path("tests/data", name))
seventeen <- function(x) paste0("[", paste(ifelse(is.finite(x), sprintf("%.17g", x), "null"), collapse = ","), "]")
entry <- function(id, parts) {
  inner <- paste(sprintf("  \"%s\": %s", names(parts), sapply(parts, seventeen)), collapse = ",\n")
  sprintf("\"%s\": {\n%s\n}", id, inner)
}

# The largest change of any fitted rate when a count is left out, with its sign.
without <- function(model, data, n) {
  sapply(seq_len(n), function(i) {
    refit <- suppressWarnings(update(model, data = data[-i, ]))
    change <- suppressWarnings(predict(refit, data, type = "response")) - fitted(model)
    change[which.max(abs(change))]
  })
}

checks <- function(id, model, quasi, data) {
  squared <- predict(model)^2
  larger <- update(model, . ~ . + squared, data = cbind(data, squared = squared))
  entry(id, list(
    leverage = hatvalues(model),
    distance = cooks.distance(model),
    quasi_distance = cooks.distance(quasi),
    pearson = residuals(model, "pearson"),
    deviance = residuals(model, "deviance"),
    standardised = rstandard(quasi, type = "pearson"),
    fitted = fitted(model),
    refit = without(model, data, nrow(data)),
    link_statistic = deviance(model) - deviance(larger),
    quasi_dispersion = summary(quasi)$dispersion,
    total_pearson = sum(residuals(model, "pearson")^2),
    total_deviance = deviance(model),
    pearson_p = pchisq(sum(residuals(model, "pearson")^2), df.residual(model), lower.tail = FALSE),
    deviance_p = pchisq(deviance(model), df.residual(model), lower.tail = FALSE)
  ))
}

control <- glm.control(epsilon = 1e-14, maxit = 100)
crowder <- read("crowder_seeds.csv")
rate <- cbind(germinated, n - germinated) ~ seed + extract
one <- checks("crowder", glm(rate, binomial, crowder, control = control), glm(rate, quasibinomial, crowder, control = control), crowder)

trays <- read("trays_invented.csv")
rate <- cbind(rooted, set - rooted) ~ factor(block) + factor(strength_mg_l)
two <- checks("trays", glm(rate, binomial, trays, control = control), glm(rate, quasibinomial, trays, control = control), trays)

birth <- read("hosmer_lemeshow_1989.csv")
model <- glm(low ~ age + lwt + factor(race) + smoke + ht + ui, binomial, birth, control = control)
p <- fitted(model)
order <- order(p)
sorted <- p[order]
tie <- cumsum(c(1, diff(sorted) > 1e-9))
size <- as.vector(table(tie))
middle <- (cumsum(size) - size / 2) / length(p)
group <- floor(middle * 10)[tie]
o <- tapply(birth$low[order], group, sum)
e <- tapply(sorted, group, sum)
n <- tapply(sorted, group, length)
statistic <- sum((o - e)^2 / (e * (1 - e / n)))
squared <- predict(model)^2
larger <- update(model, . ~ . + squared)
three <- entry("birthwt", list(
  groups = length(n), size = n, rooted = o, expected = e, statistic = statistic,
  p = pchisq(statistic, length(n) - 2, lower.tail = FALSE),
  link_statistic = deviance(model) - deviance(larger), leverage = hatvalues(model), distance = cooks.distance(model)
))

made <- sprintf("\"made_with\": \"%s\"", R.version.string)
writeLines(paste0("{\n", paste(c(made, one, two, three), collapse = ",\n"), "\n}"), "tests/reference/values/diagnostics.json")
