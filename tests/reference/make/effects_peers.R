# Makes values/effects_peers.json: averaged rates with delta standard errors (emmeans) and single-step P values (multcomp).
# Run: Rscript tests/reference/make/effects_peers.R   from the top of the project; packages of Debian 12.

suppressMessages({library(emmeans); library(multcomp); library(mvtnorm)})
set.seed(1)
numbers <- function(x) paste0("[", paste(sprintf("%.17g", as.vector(x)), collapse = ", "), "]")
rows <- function(m) paste0("[", paste(apply(m, 1, numbers), collapse = ", "), "]")

seeds <- read.csv("tests/data/crowder_seeds.csv")
dilution <- read.csv("tests/data/crowder_dilution.csv")
trays <- read.csv("tests/data/trays_invented.csv")
trays$strength <- factor(trays$strength_mg_l)
trays$block <- factor(trays$block)
exact <- glm.control(epsilon = 1e-14, maxit = 100)
models <- list(
  seeds = glm(cbind(germinated, n - germinated) ~ seed * extract, quasibinomial, seeds, control = exact),
  dilution = glm(cbind(germinated, n - germinated) ~ dilution, quasibinomial, dilution, control = exact),
  trays = glm(cbind(rooted, set - rooted) ~ block + strength, quasibinomial, trays, control = exact)
)
averaged <- function(model, specs, weights = "equal") {
  found <- as.data.frame(summary(emmeans(model, specs, regrid = "response", weights = weights)))
  list(value = found[[length(specs) + 1]], std_error = found$SE)
}
out <- c(
  sprintf('"made_with": "%s, emmeans %s, multcomp %s, mvtnorm %s"', R.version.string, packageVersion("emmeans"),
          packageVersion("multcomp"), packageVersion("mvtnorm")))
cases <- list(list("seeds", "seed", "equal"), list("seeds", "extract", "equal"), list("seeds", "seed", "proportional"),
              list("seeds", c("extract", "seed"), "equal"), list("dilution", "dilution", "equal"),
              list("trays", "strength", "equal"))
for (case in cases) {
  found <- averaged(models[[case[[1]]]], case[[2]], case[[3]])
  out <- c(out, sprintf('"rates %s %s %s": {"value": %s, "std_error": %s}', case[[1]], paste(case[[2]], collapse = " "),
                        case[[3]], numbers(found$value), numbers(found$std_error)))
}
# Pairs and comparisons with the first level, on the link scale, from the model's own covariance and degrees of freedom.
single <- function(model, factor, type) {
  means <- emmeans(model, factor)
  linear <- as.glht(contrast(means, if (type == "pairs") "pairwise" else "trt.vs.ctrl"))
  linear$df <- df.residual(model)
  precise <- GenzBretz(maxpts = 5e6, abseps = 1e-7, releps = 0)
  found <- summary(linear, test = adjusted("single-step", algorithm = precise))$test
  list(estimate = as.vector(found$coefficients), covariance = as.matrix(vcov(linear)), p = as.vector(found$pvalues))
}
for (case in list(list("dilution", "dilution", "pairs"), list("trays", "strength", "pairs"),
                  list("trays", "strength", "control"))) {
  model <- models[[case[[1]]]]
  found <- single(model, case[[2]], case[[3]])
  out <- c(out, sprintf('"single step %s %s": {"dof": %d, "estimate": %s, "covariance": %s, "p": %s}', case[[1]], case[[3]],
                        df.residual(model), numbers(found$estimate), rows(found$covariance), numbers(found$p)))
}
writeLines(paste0("{", paste(out, collapse = ",\n"), "}"), "tests/reference/values/effects_peers.json")
