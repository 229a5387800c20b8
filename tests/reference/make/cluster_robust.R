# Makes values/cluster_robust_peers.json: CR2 covariances, Satterthwaite degrees of freedom and Hotelling tests of logit models.
# Needs: clubSandwich (Debian r-cran-clubsandwich). Run from the top of the project: Rscript tests/reference/make/cluster_robust.R
#
# Crowder's seed plates, each plate a cluster; the invented trays without their blocks, each block a cluster.

suppressMessages(library(clubSandwich))
read <- function(name) read.csv(file.path("tests/data", name))
seventeen <- function(x) paste0("[", paste(sprintf("%.17g", x), collapse = ","), "]")
entry <- function(id, model, cluster, tested) {
  v <- vcovCR(model, cluster = cluster, type = "CR2")
  one <- coef_test(model, vcov = v, test = "Satterthwaite")
  joint <- Wald_test(model, constraints = constrain_zero(tested), vcov = v, test = "HTZ")
  sprintf("\"%s\": {\n  \"coef\": %s,\n  \"std_error\": %s,\n  \"dof\": %s,\n  \"f\": %s,\n  \"dof_denominator\": %s,\n  \"p\": %s\n}",
          id, seventeen(coef(model)), seventeen(sqrt(diag(as.matrix(v)))), seventeen(one$df_Satt), seventeen(joint$Fstat),
          seventeen(joint$df_denom), seventeen(joint$p_val))
}
control <- glm.control(epsilon = 1e-14, maxit = 100)
crowder <- read("crowder_seeds.csv")
one <- entry("crowder", glm(cbind(germinated, n - germinated) ~ seed + extract, binomial, crowder, control = control), crowder$plate, 2:3)
trays <- read("trays_invented.csv")
two <- entry("trays", glm(cbind(rooted, set - rooted) ~ factor(strength_mg_l), binomial, trays, control = control), trays$block, 2:length(unique(trays$strength_mg_l)))
made <- sprintf("\"made_with\": \"clubSandwich %s, %s\"", as.character(packageVersion("clubSandwich")), R.version.string)
writeLines(paste0("{\n", paste(c(made, one, two), collapse = ",\n"), "\n}"), "tests/reference/values/cluster_robust_peers.json")
