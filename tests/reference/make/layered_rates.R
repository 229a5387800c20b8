# Step 2 of 3 (see layered_rates.py): REML fits of tray rates and of empirical logits, tests and estimates by Kenward and Roger (1997).
# Run in this folder: Rscript layered_rates.R DIR   ->  DIR/NAME.fit, lines "scale;what;label;values ...", 17 digits
suppressMessages({library(lme4); library(lmerTest); library(pbkrtest); library(emmeans)})
options(contrasts = c("contr.sum", "contr.poly"))
folder <- commandArgs(TRUE)[1]
line <- function(scale, what, label, values) paste(c(scale, what, label, sprintf("%.17g", values)), collapse = ";")
said <- function(frame, columns) apply(frame[columns], 1, function(row) paste(paste(columns, trimws(row), sep = "="), collapse = ","))

# Means of the levels of `treatment`, within every level of the others where `within`, with their differences.
means <- function(fit, scale, treatment, within) {
  spec <- if (length(within)) as.formula(paste("~", treatment, "|", paste(within, collapse = "*"))) else as.formula(paste("~", treatment))
  grid <- suppressMessages(emmeans(fit, spec, lmer.df = "kenward-roger"))
  at <- as.data.frame(grid)
  pairs <- suppressMessages(as.data.frame(summary(contrast(grid, "revpairwise"), infer = TRUE, adjust = "none")))
  c(mapply(function(label, i) line(scale, "mean", label, at[i, c("emmean", "SE", "df", "lower.CL", "upper.CL")]),
           said(at, c(treatment, within)), seq_len(nrow(at))),
    mapply(function(label, i) line(scale, "contrast", label, pairs[i, c("estimate", "SE", "df", "lower.CL", "upper.CL", "p.value")]),
           paste0(treatment, ":", said(pairs, c("contrast", within))), seq_len(nrow(pairs))))
}

for (file in list.files("../../data/layered", "csv$", full.names = TRUE)) {
  data <- read.csv(file)
  units <- intersect(c("season", "block", "bay", "plant"), names(data))
  treatments <- intersect(c("length", "rootstock", "strength"), names(data))
  for (column in c(units, treatments)) data[[column]] <- factor(data[[column]])
  data$rate <- data$rooted / data$stuck
  data$logit <- log((data$rooted + 0.5) / (data$stuck - data$rooted + 0.5))
  out <- character()
  for (scale in c("rate", "logit")) {
    model <- as.formula(paste(scale, "~", paste(treatments, collapse = "*"), "+", paste0("(1 | ", units, ")", collapse = " + ")))
    fit <- lmerTest::lmer(model, data, control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10, maxfun = 1e5)))
    table <- anova(fit, type = 3, ddf = "Kenward-Roger")
    out <- c(out, mapply(function(label, i) line(scale, "test", label, table[i, c("F value", "NumDF", "DenDF", "Pr(>F)")]),
                         rownames(table), seq_len(nrow(table))))
    for (treatment in treatments) {
      others <- setdiff(treatments, treatment)
      out <- c(out, means(fit, scale, treatment, character()))
      if (length(others)) out <- c(out, means(fit, scale, treatment, others))
    }
    spread <- as.data.frame(VarCorr(fit))
    out <- c(out, mapply(function(label, x) line(scale, "component", label, x), sub("Residual", "tray", spread$grp), spread$vcov))
  }
  writeLines(out, file.path(folder, sub("csv$", "fit", basename(file))))
}
