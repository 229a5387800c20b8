# Yates' split plot of oats (1935, J. R. Stat. Soc. Suppl. 2:181-247): error strata, the four kinds of differences, Kenward-Roger.
# Also worked, from memory, in Cochran and Cox (Experimental Designs, chapter 7) and Snedecor and Cochran, whose formulas for the standard
# errors are the ones below (r blocks, a varieties, b nitrogens, Ea and Eb the mean squares of error between and within plots).
# Run in this folder: Rscript oats_split_plot.R > ../values/oats_split_plot.json      (R 4.2.2, lme4 1.1.31, pbkrtest 0.5.2, emmeans 1.8.4.1)
suppressMessages({library(lme4); library(lmerTest); library(emmeans)})
options(contrasts = c("contr.sum", "contr.poly"))
oats <- read.csv("../../data/yates_1935.csv", stringsAsFactors = TRUE)
strata <- summary(aov(yield ~ variety * nitrogen + Error(block / variety), oats))
ms <- function(stratum, row) strata[[stratum]][[1]][row, "Mean Sq"]
Ea <- ms("Error: block:variety", 2); Eb <- ms("Error: Within", 3); r <- 6; a <- 3; b <- 4
fit <- lmer(yield ~ variety * nitrogen + (1 | block) + (1 | block:variety), oats,
            control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10)))
kr <- function(spec) as.data.frame(summary(contrast(emmeans(fit, spec, lmer.df = "kenward-roger"), "revpairwise"), adjust = "none"))[1, ]
list_of <- function(x) paste0("[", paste(sprintf("%.17g", unlist(x)), collapse = ","), "]")
said <- function(name, x) paste0('"', name, '":', list_of(x))
row <- function(found) found[c("estimate", "SE", "df", "p.value")]
tests <- anova(fit, type = 3, ddf = "Kenward-Roger")
test <- function(term) tests[term, c("F value", "NumDF", "DenDF", "Pr(>F)")]
satterthwaite <- ((b - 1) * Eb + Ea)^2 / (((b - 1) * Eb)^2 / 45 + Ea^2 / 10)
cat('{"made_with":"R 4.2.2; lme4 1.1.31, lmerTest 3.1.3 and pbkrtest 0.5.2 (Kenward-Roger), emmeans 1.8.4.1",\n',
    paste(c(said("mean_squares_blocks_plots_within", c(ms("Error: block", 1), Ea, Eb)),
            said("df_blocks_plots_within", c(5, 10, 45)),
            said("classical_se_varieties", sqrt(2 * Ea / (r * b))),
            said("classical_se_nitrogens", sqrt(2 * Eb / (r * a))),
            said("classical_se_nitrogens_of_one_variety", sqrt(2 * Eb / r)),
            said("classical_se_and_df_varieties_at_one_nitrogen", c(sqrt(2 * ((b - 1) * Eb + Ea) / (r * b)), satterthwaite)),
            said("test_variety", test("variety")), said("test_nitrogen", test("nitrogen")),
            said("test_variety_by_nitrogen", test("variety:nitrogen")),
            said("varieties", row(kr(~variety))), said("nitrogens", row(kr(~nitrogen))),
            said("nitrogens_of_one_variety", row(kr(~ nitrogen | variety))),
            said("varieties_at_one_nitrogen", row(kr(~ variety | nitrogen)))), collapse = ",\n "), "}\n")
