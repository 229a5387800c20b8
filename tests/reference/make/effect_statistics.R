# Likelihood-ratio, score and Wald statistics, AIC and BIC of the Crowder plates and the low birth weights.
# Run: Rscript effect_statistics.R DATA > ../values/effect_statistics.json     (DATA: tests/data)

data <- commandArgs(TRUE)[1]
seeds <- read.csv(file.path(data, "crowder_seeds.csv"))
births <- read.csv(file.path(data, "hosmer_lemeshow_1989.csv"))
births$race <- factor(births$race)
tight <- glm.control(epsilon = 1e-15, maxit = 100)

number <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ", "), "]")
# Each of the named terms against the model without it.
statistics <- function(full, terms) {
  rows <- sapply(terms, function(term) {
    less <- update(full, as.formula(paste(". ~ . -", term)))
    test <- anova(less, full, test = "Rao")
    b <- setdiff(names(coef(full)), names(coef(less)))
    wald <- drop(coef(full)[b] %*% solve(vcov(full)[b, b], coef(full)[b]))
    c(test$Deviance[2], test$Rao[2], wald, test$Df[2])
  })
  list(ratio = rows[1, ], score = rows[2, ], wald = rows[3, ], dof = rows[4, ])
}
show <- function(id, found, more) {
  parts <- c(found, more)
  fields <- sapply(names(parts), function(name) sprintf("  \"%s\": %s", name, number(parts[[name]])))
  sprintf("\"%s\": {\n%s\n}", id, paste(fields, collapse = ",\n"))
}

out <- character(0)
for (link in c("logit", "probit", "cloglog")) {
  fit <- glm(cbind(germinated, n - germinated) ~ seed + extract, binomial(link), seeds, control = tight)
  found <- statistics(fit, c("seed", "extract"))
  out <- c(out, show(paste0("crowder_", link), found, list(loglik = logLik(fit), aic = AIC(fit))))
}
fit <- glm(low ~ age + lwt + race + smoke + ptl + ht + ui + ftv, binomial, births, control = tight)
terms <- c("age", "lwt", "race", "smoke", "ptl", "ht", "ui", "ftv")
k <- length(coef(fit)); n <- nrow(births)
more <- list(loglik = logLik(fit), aic = AIC(fit), bic = BIC(fit), aicc = AIC(fit) + 2 * k * (k + 1) / (n - k - 1))
out <- c(out, show("birthwt", statistics(fit, terms), more))
# Mother's age as a square, its slopes by smoking and by weight.
births$smoker <- factor(births$smoke)
fit <- glm(low ~ age + I(age^2) + smoker + lwt + smoker:age + smoker:I(age^2) + age:lwt + I(age^2):lwt, binomial, births,
           control = tight)
out <- c(out, show("birthwt_square", list(coef = coef(fit), se = sqrt(diag(vcov(fit)))), list(loglik = logLik(fit))))
cat(sprintf("{\n\"source\": \"%s, glm\",\n%s\n}\n", R.version.string, paste(out, collapse = ",\n")))
