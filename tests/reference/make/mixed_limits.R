# Profile limits of the cattle herds' random intercept by lme4 (Laplace), and of Crowder's plates' beta-binomial fit by a direct search.
# Run: Rscript mixed_limits.R tests/data > tests/reference/values/mixed_limits.json
suppressMessages(library(lme4))
folder <- commandArgs(TRUE)[1]
numbers <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")

herds <- read.csv(file.path(folder, "lesnoff_2004.csv"))
herds$period <- factor(herds$period)
control <- glmerControl(optimizer = "bobyqa", optCtrl = list(maxfun = 1e5, rhoend = 1e-10), tolPwrss = 1e-12)
fit <- glmer(cbind(incidence, size - incidence) ~ period + (1 | herd), herds, binomial, control = control)
limits <- suppressMessages(confint(fit, method = "profile", devtol = 1e-6))

plates <- read.csv(file.path(folder, "crowder_seeds.csv"))
x <- model.matrix(~ (seed == "O_aegyptiaca_73") * (extract == "cucumber"), plates)
y <- plates$germinated
m <- plates$n
loglik <- function(b, rho) {
  p <- plogis(x %*% b)
  s <- (1 - rho) / rho
  sum(lchoose(m, y) + lbeta(y + s * p, m - y + s * (1 - p)) - lbeta(s * p, s * (1 - p)))
}
best <- function(rho) {
  fit <- optim(c(-0.5, 0.1, 1.3, -0.8), function(b) -loglik(b, rho), method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))
  -optim(fit$par, function(b) -loglik(b, rho), control = list(reltol = 1e-15, maxit = 5000))$value
}
top <- optimise(best, c(0.001, 0.1), maximum = TRUE, tol = 1e-10)
fall <- function(rho) 2 * (top$objective - best(rho)) - qchisq(0.95, 1)
upper <- uniroot(fall, c(top$maximum, 0.3), tol = 1e-11)$root
lower <- if (fall(1e-6) < 0) 0 else uniroot(fall, c(1e-6, top$maximum), tol = 1e-11)$root
cat('{"made_with": "', R.version.string, ", lme4 ", as.character(packageVersion("lme4")), '",\n', sep = "")
cat('"herds": {"sd": ', numbers(limits[1, ]), ', "coef_low": ', numbers(limits[-1, 1]), ', "coef_high": ', numbers(limits[-1, 2]), "},\n", sep = "")
cat('"plates": {"rho": ', numbers(c(lower, upper)), "}}\n", sep = "")
