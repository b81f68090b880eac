# Reference fits for the integrated likelihood; run from the top of the checkout.
suppressMessages(library(lme4))
exact <- glmerControl(optimizer = "bobyqa", tolPwrss = 1e-10, optCtrl = list(rhoend = 1e-9))
show <- function(name, fit) {
  found <- c(fixef(fit), sd = unname(getME(fit, "theta")), log_likelihood = as.numeric(logLik(fit)))
  cat(sprintf("%s,%s,%.9f\n", name, names(found), found), sep = "")
}
cat("# Made by: Rscript tests/reference/glmer.R > tests/reference/glmer.csv\n")
cat(sprintf("# lme4 %s, %s; adaptive quadrature, 25 points.\n", packageVersion("lme4"), R.version.string))
cat("fit,name,value\n")
attempts <- read.csv("tests/reference/attempts.csv", comment.char = "#")
attempts$severity <- attempts$severity - 2
show("attempts", glmer(fixed ~ 0 + kind + severity + cause + (1 | job), attempts, binomial,
                       nAGQ = 25, control = exact))
herds <- read.csv("tests/reference/cbpp.csv", comment.char = "#")
herds$period <- factor(herds$period)
show("cbpp", glmer(cbind(incidence, size - incidence) ~ period + (1 | herd), herds, binomial,
                   nAGQ = 25, control = exact))
