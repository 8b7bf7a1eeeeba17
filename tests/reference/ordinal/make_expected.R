# Fits the invented calls of calls.csv with general statistics packages and prints what the tests
# compare with. Run in this folder, on Debian 12 with r-base-core, r-cran-survival, r-cran-mass and
# r-cran-ordinal:
#
#     Rscript make_expected.R > expected.txt
#
# With "Rscript make_expected.R data" it first draws calls.csv anew.
suppressPackageStartupMessages({
  library(survival)
  library(MASS)
  library(ordinal)
})

limits <- c(-6, -3, 0, 6, 16) # dB, where scores 1 to 5 begin

draw <- function() {
  set.seed(20260514)
  stops <- 24
  each <- 6
  stop <- rep(seq_len(stops), each = each)
  woods_db <- round(ifelse(stop %% 3 == 0, 0, runif(stops, 2, 14)[stop]), 2)
  whip <- rep(c(0, 1, 0, 1, 0, 1), stops)
  predicted_db <- round(runif(stops, -14, 22)[stop] + 5 * whip + runif(length(stop), -2, 2), 2)
  true_db <- predicted_db - 3 - 0.4 * woods_db + 1.5 * whip + rnorm(stops, 0, 4)[stop] +
    rnorm(length(stop), 0, 3)
  reading_db <- ifelse(runif(length(stop)) < 0.15, round(true_db, 1), NA)
  data.frame(stop, predicted_db, woods_db, whip, score = findInterval(true_db, limits), reading_db)
}

if ("data" %in% commandArgs(TRUE)) {
  lines <- c("# Invented calls, drawn by make_expected.R; nobody made them.",
             capture.output(write.csv(draw(), quote = FALSE, row.names = FALSE, na = "")))
  writeLines(lines, "calls.csv")
}
calls <- read.csv("calls.csv", comment.char = "#")

say <- function(name, values, errors = NULL, log_likelihood = NULL) {
  for (k in seq_along(values)) {
    cat(sprintf("%s %s %.9g %.9g\n", name, names(values)[k], values[k],
                if (is.null(errors)) NaN else errors[k]))
  }
  if (!is.null(log_likelihood)) {
    cat(sprintf("%s log_likelihood %.9g NaN\n", name, log_likelihood))
  }
}

cat("# ", R.version.string, ", survival ", format(packageVersion("survival")), ", MASS ",
    format(packageVersion("MASS")), ", ordinal ", format(packageVersion("ordinal")), "\n", sep = "")
cat("# fit, parameter, value, standard error\n")

# Known limits: the margin is somewhere in a score's interval, and is what was read otherwise.
lower <- c(-Inf, limits)[calls$score + 1]
upper <- c(limits, Inf)[calls$score + 1]
read <- !is.na(calls$reading_db)
lower[read] <- calls$reading_db[read]
upper[read] <- calls$reading_db[read]
lower[is.infinite(lower)] <- NA # survival's way to say that a side is open
upper[is.infinite(upper)] <- NA
for (shape in c("gaussian", "logistic")) {
  fit <- survreg(Surv(lower, upper, type = "interval2") ~ woods_db + whip + offset(predicted_db),
                 data = calls, dist = shape,
                 control = survreg.control(rel.tolerance = 1e-12, maxiter = 100))
  errors <- sqrt(diag(vcov(fit)))
  say(paste0("interval_", shape), c(setNames(coef(fit), c("offset", "woods", "whip")),
                                    log_error = log(fit$scale)), errors, fit$loglik[2])
}

# Free limits. These packages set the spread to 1 and find a slope of the prediction; ours is the
# same with everything divided by that slope. Errors follow by the delta method.
rescaled <- function(slope, others, covariance) {
  # covariance: of slope and others, slope first
  values <- c(others / slope, error = 1 / slope)
  jacobian <- rbind(cbind(-others / slope^2, diag(1 / slope, length(others))),
                    c(-1 / slope^2, rep(0, length(others))))
  list(values = values, errors = sqrt(diag(jacobian %*% covariance %*% t(jacobian))))
}
calls$ordered <- factor(calls$score, ordered = TRUE)
for (link in c("probit", "logistic")) {
  fit <- polr(ordered ~ predicted_db + woods_db + whip, data = calls, method = link, Hess = TRUE,
              control = list(reltol = 1e-15, maxit = 1000))
  others <- c(setNames(coef(fit)[-1], c("woods", "whip")),
              setNames(fit$zeta, paste0("limit", 1:5)))
  r <- rescaled(coef(fit)[[1]], others, vcov(fit))
  say(paste0("free_", link), r$values, r$errors, as.numeric(logLik(fit)))
}
for (link in c("probit", "logit")) {
  fit <- clmm(ordered ~ predicted_db + woods_db + whip + (1 | stop),
              data = transform(calls, stop = factor(stop)), link = link, nAGQ = 25, Hess = TRUE,
              control = clmm.control(gradTol = 1e-8, maxIter = 200))
  slope <- fit$beta[[1]]
  others <- c(setNames(fit$beta[-1], c("woods", "whip")),
              setNames(fit$alpha, paste0("limit", 1:5)))
  covariance <- vcov(fit) # alpha, beta, then log of the spread of stops
  order <- c(6, 7, 8, 1:5)
  r <- rescaled(slope, others, covariance[order, order])
  spread <- as.numeric(fit$ST[[1]])
  # log(tau) = log(spread) - log(slope)
  d <- c(-1 / slope, 1)
  part <- covariance[c(6, 9), c(6, 9)]
  say(paste0("stops_", link), c(r$values, log_group = log(spread / slope)),
      c(r$errors, sqrt(d %*% part %*% d)), as.numeric(fit$logLik))
}
