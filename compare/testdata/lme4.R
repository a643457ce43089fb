# Makes the cases of testdata/golden/lme4-1.1-31. R 4.2.2 with lme4 1.1-31,
# lmerTest 3.1-3, pbkrtest 0.5.2, numDeriv and jsonlite (Debian 12). Run in this
# folder: Rscript lme4.R. Programmes are made up, from the seeds given.
suppressMessages({library(lme4); library(lmerTest); library(pbkrtest); library(numDeriv); library(jsonlite)})

# lmer, then Newton steps on its profiled criterion: its own stop is 1e-5 off.
refine <- function(formula, data) {
  ctl <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e6), calc.derivs = FALSE, check.conv.singular = "ignore")
  fm <- lme4::lmer(formula, data, control = ctl)
  lf <- lFormula(formula, data)
  dev <- do.call(mkLmerDevfun, lf)
  th <- getME(fm, "theta")
  stopifnot(all(th > 1e-6))
  for (i in 1:4) {
    s <- solve(hessian(dev, th), grad(dev, th))
    if (max(abs(s)) > 1e-3) break
    th <- th - s
  }
  m <- mkMerMod(environment(dev), list(par = th, fval = dev(th), conv = 0, feval = 1, message = ""), lf$reTrms, fr = lf$fr, mc = fm@call)
  list(m = m, lt = lmerTest:::as_lmerModLT(m, do.call(mkLmerDevfun, lf)))
}
num <- function(x) { x <- unname(x); if (is.matrix(x)) x else I(as.numeric(x)) }

# A programme: stints in order, runs of each, candidates against K in per cent,
# drift a position in per cent, standard deviations in per cent.
made <- function(seed, order, runs, off, drift, stint, run, warm = 0, sets = NULL, set_sd = 0, blocks = NULL, by_block = 0) {
  set.seed(seed)
  set_effect <- if (is.null(sets)) NULL else setNames(rnorm(length(unique(sets)), 0, set_sd), unique(sets))
  block_effect <- if (is.null(blocks)) NULL else { k <- unique(paste(order, blocks)); setNames(rnorm(length(k), 0, by_block), k) }
  rows <- list()
  for (i in seq_along(order)) {
    s <- rnorm(1, 0, stint)
    for (k in seq_len(runs[i])) {
      v <- off[order[i]] + drift * i + s + rnorm(1, 0, run) - warm * k
      if (!is.null(sets)) v <- v + set_effect[sets[i]]
      if (!is.null(blocks)) v <- v + block_effect[paste(order[i], blocks[i])] + 3 * (blocks[i] == blocks[length(blocks)])
      rows[[length(rows) + 1]] <- data.frame(stint = i, code = order[i], set = if (is.null(sets)) "" else sets[i], block = if (is.null(blocks)) "" else blocks[i],
        position = i, number = k, value = round(8 * exp(v / 100), 3))
    }
  }
  do.call(rbind, rows)
}

case <- function(name, where, formula, d, settings, bracket = FALSE) {
  d$y <- log(d$value); d$code <- relevel(factor(d$code), "K"); d$stint <- factor(d$stint)
  DATA <<- d
  r <- refine(formula, d); m <- r$m
  A <- vcovAdj(m)
  codes <- setdiff(levels(d$code), "K")
  p <- length(fixef(m))
  L <- t(sapply(codes, function(c) as.numeric(names(fixef(m)) == paste0("code", c))))
  vc <- as.data.frame(VarCorr(m))
  e <- list(variances = setNames(as.list(vc$vcov), vc$grp), codes = codes)
  if (!bracket) {
    e$estimate <- num(as.numeric(L %*% fixef(m)))
    e$covariance <- num(as.matrix(L %*% A %*% t(L)))
    e$df_kr <- num(apply(L, 1, function(l) get_Lb_ddf(m, matrix(l, 1))))
    e$df_satterthwaite <- num(apply(L, 1, function(l) contest1D(r$lt, l)$df))
  } else {
    # Weights of a bracket are given: each candidate's stints averaged, each less
    # the controls before and after by position.
    st <- d[!duplicated(d$stint), ]
    W <- as.matrix(attr(A, "W"))
    G <- list(outer(d$stint, d$stint, "==") * 1, diag(nrow(d)))
    V <- vc$vcov[1] * G[[1]] + vc$vcov[2] * G[[2]]
    k <- which(st$code == "K")
    a <- sapply(codes, function(c) {
      w <- rep(0, nrow(st)); own <- which(st$code == c)
      for (i in own) {
        b <- max(k[k < i]); f <- min(k[k > i]); t <- (st$position[i] - st$position[b]) / (st$position[f] - st$position[b])
        w[i] <- w[i] + 1 / length(own); w[b] <- w[b] - (1 - t) / length(own); w[f] <- w[f] - t / length(own)
      }
      w[as.integer(d$stint)] / as.numeric(table(d$stint))[as.integer(d$stint)]
    })
    e$covariance <- num(t(a) %*% V %*% a)
    e$df <- num(apply(a, 2, function(x) { g <- sapply(G, function(z) as.numeric(t(x) %*% z %*% x)); v <- as.numeric(t(x) %*% V %*% x); as.numeric(2 * v^2 / (t(g) %*% W %*% g)) }))
  }
  input <- list(control = "K", settings = settings, runs = lapply(seq_len(nrow(d)), function(i)
    list(stint = as.character(d$stint[i]), code = as.character(d$code[i]), set = d$set[i], block = d$block[i], position = d$position[i], number = d$number[i], value = d$value[i])))
  write(c("kind: independent", paste("where:", where), "tol: 1e-6",
    "tol-why: relative to the standard error for estimates, else relative; the peer's optimum found with numerical derivatives",
    "made-by: R 4.2.2, lme4 1.1-31, pbkrtest 0.5.2, lmerTest 3.1-3, script testdata/lme4.R",
    "-- inputs.json --", toJSON(input, digits = NA, auto_unbox = TRUE), "-- expected.json --", toJSON(e, digits = NA, auto_unbox = TRUE)),
    paste0("golden/lme4-1.1-31/", name, ".txtar"))
}
dir.create("golden/lme4-1.1-31", showWarnings = FALSE)

off <- c(K = 0, P = 2, R = -1, W = 0.5)
order <- strsplit("K P R K W P K R W K", " ")[[1]]
d <- made(11, order, c(6, 3, 5, 8, 4, 6, 3, 7, 5, 4), off, 0.4, 1.2, 0.8)
case("unequal-runs-line", "made-up programme of ten stints of 3 to 8 runs; log value by tyre and straight line, stint random",
  y ~ code + position + (1 | stint), d, list(drift = "linear", run_number = "none"))
case("unequal-runs-bracket", "the same; variances about tyre and line, the bracket's weights given, degrees of freedom by Satterthwaite from pbkrtest's W",
  y ~ code + position + (1 | stint), d, list(drift = "bracket", run_number = "none"), bracket = TRUE)
d <- made(12, order, c(6, 3, 5, 8, 4, 6, 3, 7, 5, 4), off, -0.5, 1.0, 0.6, warm = 0.3)
case("run-number", "made-up programme with a wear of 0.3 per cent a run; the run number within the stint as a fixed term",
  y ~ code + position + number + (1 | stint), d, list(drift = "linear", run_number = "linear"))
case("run-number-each", "the same with a level for every run number",
  y ~ code + position + factor(number) + (1 | stint), d, list(drift = "linear", run_number = "each"))
order <- strsplit("K P W K P W K W P K W P K", " ")[[1]]
d <- made(13, order, rep(4, 13), off, 0.3, 0.6, 0.8, sets = c("K1", "P1", "W1", "K2", "P2", "W2", "K1", "W1", "P1", "K2", "W2", "P2", "K1"), set_sd = 1.5)
case("sets-within-codes", "made-up programme of two sets of each, fitted two or three times; set random within code, stint random within set",
  y ~ code + position + (1 | code:set) + (1 | stint), d, list(drift = "linear"))
order <- strsplit("K P W K W P K K W P K P W K", " ")[[1]]
d <- made(14, order, rep(5, 14), off, 0.2, 0.6, 0.8, blocks = rep(c("monday", "tuesday"), each = 7), by_block = 1.5)
d$within <- d$position - ifelse(d$block == "tuesday", 7, 0)
case("tyre-by-block", "made-up programme of two days; level of each day fixed, tyre by day random, stint random",
  y ~ block + code + within + (1 | code:block) + (1 | stint), d, list(drift = "linear"))
