# Makes golden/ordinal-2022.11-16. R 4.2.2 with ordinal 2022.11-16, numDeriv and
# jsonlite (Debian 12). Run in this folder: Rscript ordinal.R
suppressMessages({library(ordinal); library(jsonlite)})
dir.create("golden/ordinal-2022.11-16", FALSE, TRUE)
num <- function(x) I(as.numeric(unname(x)))
out <- function(name, where, tol, why, input, e)
  write(c("kind: independent", paste("where:", where), paste("tol:", tol), paste("tol-why:", why), "made-by: R 4.2.2, ordinal 2022.11-16, script testdata/ordinal.R",
    "-- inputs.json --", toJSON(input, digits = NA, auto_unbox = TRUE), "-- expected.json --", toJSON(e, digits = NA, auto_unbox = TRUE)), paste0("golden/ordinal-2022.11-16/", name, ".txtar"))
w <- data.frame(rating = as.integer(wine$rating), temp = as.character(wine$temp), contact = as.character(wine$contact), judge = as.character(wine$judge))
base <- list(rating = w$rating, fixed = list(list(name = "temp", levels = c("cold", "warm")), list(name = "contact", levels = c("no", "yes"))),
  factors = list(temp = w$temp, contact = w$contact, judge = w$judge))
ctl <- clmm2.control(gradTol = 1e-10, maxIter = 500)
for (th in c("flexible", "symmetric", "equidistant")) {
  f <- clmm2(rating ~ temp + contact, random = judge, data = wine, nAGQ = 30, Hess = TRUE, threshold = th, control = ctl)
  s <- summary(f)$coefficients; na <- length(f$Alpha)
  e <- list(coef = num(f$beta), se = num(s[na + 1:2, 2]), cuts = num(f$Theta), sd = as.numeric(f$stDev), loglik = as.numeric(logLik(f)), effects = num(f$ranef), conditional = num(sqrt(f$condVar)))
  if (th == "flexible") e$cuts_se <- num(s[1:na, 2])
  out(paste0("wine-", th), paste("clmm2 of rating on temp, contact and judge, 30 nodes,", th, "thresholds"), "2e-5", "absolute; the peer's optimiser and numerical Hessian", c(base, list(random = I("judge"), thresholds = th, nodes = 30)), e)
}
f <- clm(rating ~ temp + contact, data = wine, control = clm.control(gradTol = 1e-12))
s <- summary(f)$coefficients
out("wine-plain", "clm of rating on temp and contact", "1e-8", "absolute; both by Newton", c(base, list(random = I(character()), thresholds = "flexible", nodes = 0)),
  list(coef = num(f$beta), se = num(s[5:6, 2]), cuts = num(f$alpha), cuts_se = num(s[1:4, 2]), loglik = as.numeric(logLik(f))))
# Made-up ratings in half points: raters crossed with sessions, missing cells.
set.seed(8)
r <- expand.grid(tyre = c("K", "P", "R"), session = sprintf("s%d", 1:6), rater = sprintf("r%d", 1:7), stringsAsFactors = FALSE)
r <- r[-sample(nrow(r), 20), ]
z <- c(K = 0, P = 1.1, R = -0.8)[r$tyre] + rnorm(7, 0, 1.3)[match(r$rater, sprintf("r%d", 1:7))] + rnorm(6, 0, 1)[match(r$session, sprintf("s%d", 1:6))] + rlogis(nrow(r))
r$rating <- as.integer(cut(z, c(-Inf, -2.5, -1, 0, 1.2, 2.6, Inf)))
m <- clmm(ordered(rating) ~ tyre + (1 | rater) + (1 | session), data = r, Hess = TRUE, control = clmm.control(gradTol = 1e-8))
# Its errors are not taken: clmm warns that its inner search gave up; see below.
out("crossed-laplace", "made-up ratings, clmm by Laplace: rater and session crossed", "1e-4", "absolute; the peer's optimiser and numerical Hessian",
  list(rating = r$rating, fixed = list(list(name = "tyre", levels = c("K", "P", "R"))), factors = list(tyre = r$tyre, rater = r$rater, session = r$session), random = c("rater", "session"), thresholds = "flexible", nodes = 1),
  list(coef = num(m$beta), cuts = num(m$alpha), sd = num(unlist(m$ST)), loglik = as.numeric(logLik(m)),
    effects_rater = num(ranef(m)$rater[unique(r$rater), 1]), effects_session = num(ranef(m)$session[unique(r$session), 1])))
# The published example: printed figures, typed in from the tutorial.
dir.create("golden/christensen-2015", FALSE, TRUE)
head <- function(where, tol, why) c("kind: worked-example", paste("where:", where), paste("tol:", tol), paste("tol-why:", why))
case <- function(name, h, e) write(c(h, "-- inputs.json --", toJSON(base, digits = NA, auto_unbox = TRUE), "-- expected.json --", toJSON(e, digits = NA, auto_unbox = TRUE)), paste0("golden/christensen-2015/", name, ".txtar"))
case("wine-laplace", head("model fm1 as printed", "3e-5", "absolute; the peer's search stops up to 2.2e-5 short (see the case of R)"),
  list(variance = 1.279455, sd = 1.13113, coef = c(3.062993, 1.834883), cuts = c(-1.623664, 1.513364, 4.228525, 6.088770), loglik = -81.56541))
case("wine-quadrature", head("models fm2, fm3, fm4, anova, predict and fitted as printed", "5.1e-5", "absolute; printed digits, half a unit of the last"),
  list(variance = 1.287741, sd = 1.134787, coef = c(3.0619, 1.8334), se = c(0.5951, 0.5122), z = c(5.1454, 3.5797), p = c(2.6698e-07, 0.00034396), cuts = c(-1.6235, 1.5128, 4.2271, 6.0862), cuts_se = c(0.6834, 0.6044, 0.8090, 0.9719), loglik = -81.53246,
    without_contact = 177.4090, ratio_contact = 14.34409, p_contact = 0.0001522572, without_judge = 172.9838, ratio_judge = 9.918925, p_judge = 0.001635879,
    fitted = c(0.4188998, 0.4723982, 0.5499191, 0.2607227, 0.4203948, 0.4203948), predicted = c(0.6547512, 0.1661397, 0.4958192, 0.0696343, 0.1913894, 0.1913894)))

# Laplace's approximation written out, with errors by numDeriv.
library(numDeriv); dir.create("golden/r-4.2.2", FALSE, TRUE)
lap <- function(y, X, groups) {
  K <- max(y) - 1; q <- sapply(groups, max); Z <- do.call(cbind, lapply(groups, function(g) outer(g, seq_len(max(g)), "==") * 1))
  function(p) {
    th <- c(-Inf, p[1:K], Inf); if (any(diff(p[1:K]) <= 0)) return(-1e10)
    eta <- X %*% p[K + seq_len(ncol(X))]; ZS <- sweep(Z, 2, rep(p[K + ncol(X) + seq_along(q)], q), "*"); b <- rep(0, ncol(Z))
    part <- function(b) { e <- as.numeric(eta + ZS %*% b); list(a = plogis(th[y + 1] - e), b = plogis(th[y] - e)) }
    curve <- function(f) t(ZS) %*% (ZS * (f$a * (1 - f$a) + f$b * (1 - f$b))) + diag(ncol(Z))
    for (i in 1:200) { f <- part(b); s <- solve(curve(f), t(ZS) %*% (f$a + f$b - 1) - b); b <- b + as.numeric(s); if (max(abs(s)) < 1e-12) break }
    f <- part(b); sum(log(f$a - f$b)) - sum(b^2) / 2 - 0.5 * as.numeric(determinant(curve(f))$modulus)
  }
}
solved <- function(L, p) {
  p <- optim(p, function(p) -L(p), method = "BFGS", control = list(reltol = 1e-15, maxit = 2000))$par
  for (i in 1:4) p <- p - solve(hessian(L, p), grad(L, p))
  list(p = unname(p), se = unname(sqrt(diag(solve(-hessian(L, p))))), l = L(p))
}
write_r <- function(name, where, input, r, K, p) write(c("kind: independent", paste("where:", where), "tol: 1e-6", "tol-why: absolute; numerical derivatives on both sides", "made-by: R 4.2.2, numDeriv, script testdata/ordinal.R",
  "-- inputs.json --", toJSON(input, digits = NA, auto_unbox = TRUE), "-- expected.json --",
  toJSON(list(cuts = num(r$p[1:K]), cuts_se = num(r$se[1:K]), coef = num(r$p[K + 1:p]), se = num(r$se[K + 1:p]), sd = num(r$p[-(1:(K + p))]), sd_se = num(r$se[-(1:(K + p))]), loglik = r$l), digits = NA, auto_unbox = TRUE)), paste0("golden/r-4.2.2/", name, ".txtar"))
v <- solved(lap(w$rating, cbind(w$temp == "warm", w$contact == "yes") * 1, list(as.integer(w$judge))), c(-1.6, 1.5, 4.2, 6.1, 3.06, 1.83, 1.13))
write_r("wine-laplace", "wine data of R's ordinal, Laplace's approximation written out", c(base, list(random = I("judge"), thresholds = "flexible", nodes = 1)), v, 4, 2)
v <- solved(lap(r$rating, cbind(r$tyre == "P", r$tyre == "R") * 1, list(match(r$rater, unique(r$rater)), match(r$session, unique(r$session)))), as.numeric(c(m$alpha, m$beta, unlist(m$ST))))
write_r("crossed-laplace", "made-up ratings, rater and session crossed, Laplace's approximation written out",
  list(rating = r$rating, fixed = list(list(name = "tyre", levels = c("K", "P", "R"))), factors = list(tyre = r$tyre, rater = r$rater, session = r$session), random = c("rater", "session"), thresholds = "flexible", nodes = 1), v, 5, 2)
