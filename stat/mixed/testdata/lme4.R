# Makes the cases of testdata/golden/lme4-1.1-31 that say so, and those of
# r-4.2.2. R 4.2.2 with lme4 1.1-31, lmerTest 3.1-3, pbkrtest 0.5.2, numDeriv
# and jsonlite (Debian 12). Run in this folder: Rscript lme4.R
suppressMessages({library(lme4); library(lmerTest); library(pbkrtest); library(numDeriv); library(jsonlite)})

# lmer, then Newton steps on its profiled criterion: its own stop is 1e-5 off.
refine <- function(formula, data, REML) {
  ctl <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e6), calc.derivs = FALSE, check.conv.singular = "ignore")
  fm <- lme4::lmer(formula, data, REML = REML, weights = w, control = ctl)
  lf <- lFormula(formula, data, REML = REML, weights = w)
  dev <- do.call(mkLmerDevfun, lf)
  th <- getME(fm, "theta")
  free <- !(getME(fm, "lower") == 0 & th < 1e-6)
  th[!free] <- 0
  f <- function(x) { t <- th; t[free] <- x; dev(t) }
  if (any(free)) for (i in 1:4) {
    s <- solve(hessian(f, th[free]), grad(f, th[free]))
    if (max(abs(s)) > 1e-3) break
    th[free] <- th[free] - s
  }
  v <- dev(th)
  m <- mkMerMod(environment(dev), list(par = th, fval = v, conv = 0, feval = 1, message = ""), lf$reTrms, fr = lf$fr, mc = fm@call)
  list(m = m, lt = lmerTest:::as_lmerModLT(m, do.call(mkLmerDevfun, lf)), singular = any(!free))
}
num <- function(x) { x <- unname(x); if (is.matrix(x)) x else I(as.numeric(x)) }

# formula: the model for lmer. fixed, random: the same for the reader of the
# case. terms: columns of the coefficients tested together.
case <- function(name, where, formula, data, fixed, random, REML = TRUE, terms = list()) {
  if (is.null(data$w)) data$w <- 1
  DATA <<- data
  r <- refine(formula, data, REML); m <- r$m; lt <- r$lt
  p <- length(fixef(m)); one <- function(i) { L <- matrix(0, 1, p); L[i] <- 1; L }
  rows <- function(k) do.call(rbind, lapply(k, one))
  vc <- as.data.frame(VarCorr(m))
  e <- list(
    variances = lapply(seq_len(nrow(vc)), function(i) list(group = vc$grp[i], term = ifelse(is.na(vc$var1[i]), "", vc$var1[i]), other = ifelse(is.na(vc$var2[i]), "", vc$var2[i]), value = vc$vcov[i])),
    criterion = if (REML) REMLcrit(m) else -2 * as.numeric(logLik(m)),
    coef = num(fixef(m)), se = num(sqrt(diag(as.matrix(vcov(m))))), fitted = num(fitted(m)), singular = r$singular)
  re <- as.data.frame(ranef(m, condVar = TRUE))
  e$effects <- lapply(seq_len(nrow(re)), function(i) list(component = as.character(re$grpvar[i]), term = as.character(re$term[i]), group = as.character(re$grp[i]), value = re$condval[i], conditional = re$condsd[i]))
  if (!r$singular) {
    e$df_satterthwaite <- num(sapply(seq_len(p), function(i) contest1D(lt, as.numeric(one(i)))$df))
    e$tests_satterthwaite <- lapply(names(terms), function(n) { k <- contestMD(lt, rows(terms[[n]])); list(columns = I(terms[[n]]), f = k[["F value"]], den = k$DenDF, p = k[["Pr(>F)"]]) })
  }
  # pbkrtest 0.5.2 leaves weights out of the residual's part: see dense.R for those.
  if (REML && all(data$w == 1)) {
    A <- vcovAdj(m)
    e$cov_kr <- num(as.matrix(A))
    e$df_kr <- num(sapply(seq_len(p), function(i) get_Lb_ddf(m, one(i))))
    e$tests_kr <- lapply(names(terms), function(n) { k <- pbkrtest:::.KR_adjust(A, vcov(m), rows(terms[[n]]), fixef(m), fixef(m) * 0); list(columns = I(terms[[n]]), f = k$Fstat, den = k$ddf, scale = k$F.scaling, p = k$p.value) })
  }
  input <- list(method = ifelse(REML, "REML", "ML"), response = as.character(formula[[2]]), fixed = fixed, random = random,
    numbers = lapply(Filter(is.numeric, as.list(data)), num), factors = lapply(Filter(Negate(is.numeric), as.list(data)), as.character))
  write(c("kind: independent", paste("where:", where), "tol: 1e-6",
    "tol-why: relative, and 1e-6 of the standard error for coefficients and effects; the peer's optimum found with numerical derivatives",
    "made-by: R 4.2.2, lme4 1.1-31, pbkrtest 0.5.2, lmerTest 3.1-3, script testdata/lme4.R",
    "-- inputs.json --", toJSON(input, digits = NA, auto_unbox = TRUE), "-- expected.json --", toJSON(e, digits = NA, auto_unbox = TRUE)),
    paste0("golden/lme4-1.1-31/", name, ".txtar"))
}
intercept <- list(kind = "intercept"); column <- function(n) list(kind = "column", name = n)
fac <- function(n, ...) list(kind = "factor", name = n, levels = c(...))
re <- function(n, groups = n, slopes = character(), alone = FALSE) list(name = n, groups = groups, slopes = I(slopes), alone = alone)
dir.create("golden/lme4-1.1-31", FALSE, TRUE)

# A made-up programme: control K and four candidates in eleven stints of 3 to 7
# runs, drift along the position of the stint, stint random.
set.seed(4711)
stint <- c("K", "P", "R", "K", "T", "W", "K", "R", "P", "K", "T", "K"); runs <- c(5, 3, 7, 4, 6, 3, 5, 4, 7, 3, 5, 6)
at <- rep(seq_along(stint), runs)
prog <- data.frame(tyre = factor(stint[at], levels = c("K", "P", "R", "T", "W")), stint = factor(sprintf("s%02d", at)), position = at - 6.5)
prog$lap <- round(92 + c(K = 0, P = -0.6, R = 0.3, T = -1.1, W = 0.9)[as.character(prog$tyre)] + 0.05 * prog$position + rnorm(12, 0, 0.35)[at] + rnorm(nrow(prog), 0, 0.25), 2)
ft <- list(intercept, fac("tyre", "K", "P", "R", "T", "W"), column("position"))
case("programme-stints", "made-up programme: tyre and straight drift fixed, stint random, 12 stints of 3 to 7 runs", lap ~ tyre + position + (1 | stint), prog, ft, list(re("stint")), terms = list(tyre = 2:5, pair = 2:3, slope = 6))
case("programme-stints-ml", "the same by full likelihood", lap ~ tyre + position + (1 | stint), prog, ft, list(re("stint")), REML = FALSE, terms = list(tyre = 2:5))
prog$w <- c(1, 2, 0.5, 1.5)[(seq_len(nrow(prog)) %% 4) + 1]
case("programme-weights", "the same with weights of the runs", lap ~ tyre + position + (1 | stint), prog, ft, list(re("stint")), terms = list(tyre = 2:5))
prog$w <- NULL

# Two days, two drivers, sets within codes, stints within sets, missing cells.
set.seed(99)
g <- expand.grid(rep = 1:2, tyre = c("K", "P", "R"), day = c("d1", "d2", "d3"), stringsAsFactors = FALSE)
g <- g[-c(4, 11, 18), ]
g$set <- paste0(g$tyre, ifelse(g$tyre == "K", 1 + seq_len(nrow(g)) %% 3, 1 + g$rep %% 2))
g$stint <- sprintf("s%02d", sample(nrow(g)))
n <- 1 + seq_len(nrow(g)) %% 4
h <- g[rep(seq_len(nrow(g)), n), ]; rownames(h) <- NULL
pick <- function(f, sd) { f <- factor(f); rnorm(nlevels(f), 0, sd)[f] }
h$y <- round(40 + c(K = 0, P = 1.2, R = -0.5)[h$tyre] + pick(h$day, 0.8) + pick(h$set, 0.6) + pick(h$stint, 0.5) + rnorm(nrow(h), 0, 0.4), 2)
h$tyre <- factor(h$tyre)
case("programme-days-sets", "made-up programme: tyre fixed; day crossed with set, stint within both", y ~ tyre + (1 | day) + (1 | set) + (1 | stint), h, list(intercept, fac("tyre", "K", "P", "R")), list(re("day"), re("set"), re("stint")), terms = list(tyre = 2:3))

# Slopes, balanced no more: every seventh row of sleepstudy left out.
sl <- sleepstudy[seq_len(nrow(sleepstudy)) %% 7 != 0, ]; sl$Subject <- as.character(sl$Subject)
case("sleepstudy-thinned", "sleepstudy without every seventh row, correlated slopes", Reaction ~ Days + (Days | Subject), sl, list(intercept, column("Days")), list(re("Subject", slopes = "Days")), terms = list(both = 1:2))
sl$S2 <- sl$Subject
case("sleepstudy-thinned-apart", "the same with level and slope independent", Reaction ~ Days + (1 | Subject) + (0 + Days | S2), sl, list(intercept, column("Days")), list(re("Subject"), re("S2", slopes = "Days", alone = TRUE)), terms = list(both = 1:2))

# Level and slope vary together completely: at the edge.
set.seed(15)
e <- data.frame(g = rep(letters[1:6], each = 5), x = rep(0:4, 6))
u <- rnorm(6)
e$y <- round(3 + 0.4 * e$x + u[match(e$g, letters)] * (1 + 0.5 * e$x) + rnorm(30, 0, 1.2), 3)
case("slopes-singular", "made-up: correlation of level and slope at the edge", y ~ x + (x | g), e, list(intercept, column("x")), list(re("g", slopes = "x")), terms = list())

# One of two variances at zero.
set.seed(11)
z <- data.frame(rater = rep(c("r1", "r2", "r3", "r4"), each = 6), session = rep(c("a", "b", "c"), 8), tyre = factor(rep(c("K", "P", "K", "R", "K", "P"), 4)))
z$y <- round(6 + c(K = 0, P = 0.5, R = -0.4)[as.character(z$tyre)] + c(-0.5, 0.3, 0.6, -0.2)[match(z$rater, c("r1", "r2", "r3", "r4"))] + rnorm(24, 0, 0.3), 2)
case("raters-sessions", "made-up ratings: rater and session crossed, session's variance zero", y ~ tyre + (1 | rater) + (1 | session), z, list(intercept, fac("tyre", "K", "P", "R")), list(re("rater"), re("session")), terms = list(tyre = 2:3))
