# Values for values/count_laws.json: articles of doctoral students (Long 1990) and calls of owl nestlings (Roulin and Bersier 2007).
# Written for R 4.2.2 with MASS 7.3.58.2, pscl 1.5.5 and glmmTMB 1.1.5, which also hold both tables; run from the top of the project:
#   Rscript tests/reference/make/count_laws.R
# The packages fit; Newton steps with slopes by complex steps then end what their optimisers leave, and the package's own likelihood has to
# be met within 1e-6.
suppressMessages({library(MASS); library(pscl); library(glmmTMB); library(numDeriv)})
options(digits = 17, warn = -1)

data(bioChemists, package = "pscl")
articles <- with(bioChemists, data.frame(articles = art, women = as.integer(fem == "Women"), married = as.integer(mar == "Married"),
  young_children = kid5, prestige = round(phd, 6), mentor_articles = ment))
head_of <- c("# Articles of 915 doctoral students of biochemistry in the last three years before their degree.",
  "# Long JS (1990). The origins of sex differences in science. Social Forces 68(3): 1297-1316.")
keep <- function(frame, file, lines) {
  writeLines(lines, file)
  suppressWarnings(write.table(frame, file, append = TRUE, sep = ",", row.names = FALSE, quote = FALSE))
}
keep(articles, "tests/data/long_1990.csv", head_of)
data(Owls, package = "glmmTMB")
owls <- with(Owls, data.frame(nest = Nest, food = tolower(FoodTreatment), parent = tolower(SexParent), arrival = ArrivalTime,
  calls = SiblingNegotiation, brood = BroodSize))
keep(owls, "tests/data/roulin_bersier_2007.csv", c("# Calls of barn owl nestlings before a parent arrived, 599 visits to 27 nests.",
  "# Roulin A, Bersier LF (2007). Nestling barn owls beg more intensely in the presence of their mother than in the presence of their father. Animal Behaviour 74(4): 1099-1106."))

# The likelihood in complex numbers, so that a step of 1e-30 i gives its slopes to the last digit.
law <- function(y, eta, spread) {
  if (Mod(spread) == 0) return(list(none = -exp(eta), all = y * eta - exp(eta) - lfactorial(y)))
  rising <- c(0, cumsum(log(1 + spread * seq(0, max(y)))))[y + 1]
  widened <- log(1 + spread * exp(eta))
  list(none = -widened / spread, all = rising + y * (eta - widened) - widened / spread - lfactorial(y))
}
height <- function(par, y, x, z, offset, zeros, wide) {
  eta <- as.vector(x %*% par[seq_len(ncol(x))]) + offset
  found <- law(y, eta, if (wide) exp(par[length(par)]) else 0)
  if (zeros == "plain") return(sum(found$all))
  zeta <- as.vector(z %*% par[ncol(x) + seq_len(ncol(z))])
  any <- y > 0
  if (zeros == "apart") return(sum((zeta + found$all - log(1 - exp(found$none)))[any]) - sum(log(1 + exp(zeta))))
  sum(log(exp(zeta) + exp(found$none))[!any]) + sum(found$all[any]) - sum(log(1 + exp(zeta)))
}
slopes <- function(par, ...) sapply(seq_along(par), function(at) {
  moved <- as.complex(par)
  moved[at] <- moved[at] + 1e-30i
  Im(height(moved, ...)) / 1e-30
})
ended <- function(par, ...) {
  bends <- function(par) { found <- jacobian(function(p) slopes(p, ...), par); (found + t(found)) / 2 }
  for (step in 1:12) par <- par - solve(bends(par), slopes(par, ...))
  list(par = par, loglik = Re(height(as.complex(par), ...)), se = sqrt(diag(solve(-bends(par)))))
}
told <- function(name, found, nx, nz, wide, package) {
  stopifnot(abs(found$loglik - package) < 1e-6 * abs(package))
  list(name = name, count = found$par[seq_len(nx)], zero = found$par[nx + seq_len(nz)],
       spread = if (wide) exp(found$par[length(found$par)]) else 0, loglik = found$loglik, se = found$se)
}
out <- list()
y <- articles$articles
x <- model.matrix(~ women + married + young_children + prestige + mentor_articles, articles)
n0 <- ncol(x)
po <- glm(articles ~ women + married + young_children + prestige + mentor_articles, poisson, articles)
nb <- glm.nb(articles ~ women + married + young_children + prestige + mentor_articles, articles)
out[[1]] <- told("articles, poisson", ended(coef(po), y, x, NULL, 0, "plain", FALSE), n0, 0, FALSE, logLik(po))
out[[2]] <- told("articles, negative-binomial", ended(c(coef(nb), -log(nb$theta)), y, x, NULL, 0, "plain", TRUE), n0, 0, TRUE, logLik(nb))
for (wide in c(FALSE, TRUE)) for (zeros in c("apart", "added")) {
  dist <- if (wide) "negbin" else "poisson"
  made <- if (zeros == "apart") hurdle else zeroinfl
  fit <- made(articles ~ women + married + young_children + prestige + mentor_articles, articles, dist = dist)
  start <- c(fit$coefficients$count, fit$coefficients$zero, if (wide) -log(fit$theta))
  name <- paste0("articles, ", if (zeros == "apart") "hurdle-" else "zero-inflated-", if (wide) "negative-binomial" else "poisson")
  out[[length(out) + 1]] <- told(name, ended(start, y, x, x, 0, zeros, wide), n0, n0, wide, fit$loglik)
}
y <- owls$calls
x <- model.matrix(~ food * parent, owls)
one <- matrix(1, nrow(owls), 1)
offset <- log(owls$brood)
plain <- glmmTMB(calls ~ food * parent + offset(log(brood)), owls, family = nbinom2)
added <- glmmTMB(calls ~ food * parent + offset(log(brood)), owls, family = nbinom2, ziformula = ~ 1)
parts <- hurdle(calls ~ food * parent + offset(log(brood)) | 1, owls, dist = "negbin")
out[[length(out) + 1]] <- told("owls, negative-binomial", ended(c(fixef(plain)$cond, -log(sigma(plain))), y, x, NULL, offset, "plain", TRUE), 4, 0, TRUE, as.numeric(logLik(plain)))
out[[length(out) + 1]] <- told("owls, zero-inflated-negative-binomial", ended(c(fixef(added)$cond, fixef(added)$zi, -log(sigma(added))), y, x, one, offset, "added", TRUE), 4, 1, TRUE, as.numeric(logLik(added)))
out[[length(out) + 1]] <- told("owls, hurdle-negative-binomial", ended(c(parts$coefficients$count, parts$coefficients$zero, -log(parts$theta)), y, x, one, offset, "apart", TRUE), 4, 1, TRUE, parts$loglik)
text <- function(v) paste0("[", paste(formatC(as.numeric(v), digits = 17, format = "g"), collapse = ", "), "]")
number <- function(v) formatC(as.numeric(v), digits = 17, format = "g")
lines <- sapply(out, function(e) sprintf('{"name": "%s", "count": %s, "zero": %s, "spread": %s, "loglik": %s, "se": %s}',
  e$name, text(e$count), if (length(e$zero)) text(e$zero) else "[]", number(e$spread), number(e$loglik), text(e$se)))
made <- sprintf('"made_with": "R %s, MASS %s, pscl %s, glmmTMB %s"', getRversion(), packageVersion("MASS"), packageVersion("pscl"), packageVersion("glmmTMB"))
writeLines(c(paste0("{", made, ", \"entries\": ["), paste(lines, collapse = ",\n"), "]}"), "tests/reference/values/count_laws.json")
