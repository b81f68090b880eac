# lme4::glmer on the same rows: Rscript tests/benchmarks/fitting/fit_speed_glmer.R ROWS.csv
# Laplace, all it can do with more than one grouping; severities the same for every kind; no posterior.
suppressMessages(library(lme4))
rows <- read.csv(commandArgs(trailingOnly = TRUE)[1], stringsAsFactors = TRUE)
rows$severity <- relevel(factor(rows$severity), "2")
start <- proc.time()
fit <- suppressWarnings(glmer(
  fixed ~ severity + tier + technician + cause + again + (1 | method) + (1 | family) + (1 | kind) + (1 | job),
  rows, binomial, control = glmerControl(optimizer = "bobyqa", calc.derivs = FALSE)))
spent <- proc.time() - start
sds <- as.data.frame(VarCorr(fit))
cat(sprintf('{"seconds": %.2f, "job_sd": %.4f, "singular": %s, "log_likelihood": %.3f, "version": "%s, %s"}\n',
            sum(spent[c("user.self", "sys.self")]), sds$sdcor[sds$grp == "job"],
            tolower(isSingular(fit)), as.numeric(logLik(fit)), packageVersion("lme4"), R.version.string))
