# Thresholds by Jeffreys-penalised logistic regression, by a general optimiser.
one <- function(stints) {
  x <- unlist(lapply(stints, function(a) a$speed)); y <- unlist(lapply(stints, function(a) a$clean))
  s <- factor(rep(seq_along(stints), sapply(stints, function(a) length(a$speed))))
  m <- mean(x)
  X <- cbind(model.matrix(~ 0 + s), -(x - m))
  g <- function(b) {
    e <- drop(X %*% b); p <- plogis(e); w <- p * (1 - p)
    -(sum(dbinom(y, 1, p, log = TRUE)) + determinant(crossprod(X, w * X), logarithm = TRUE)$modulus[1] / 2)
  }
  b <- rep(0, ncol(X)); b[ncol(X)] <- 1
  for (i in 1:8) b <- optim(b, g, method = if (i %% 2) "BFGS" else "Nelder-Mead", control = list(reltol = 1e-16, maxit = 20000))$par
  k <- ncol(X); p <- plogis(drop(X %*% b)); V <- solve(crossprod(X, p * (1 - p) * X))
  th <- m + b[-k] / b[k]
  se <- sapply(seq_len(k - 1), function(i) { d <- c(1 / b[k], -b[i] / b[k]^2); sqrt(drop(t(d) %*% V[c(i, k), c(i, k)] %*% d)) })
  list(threshold = th, se = se, width = 1 / b[k])
}
f <- function(x) paste0("[", paste(sprintf("%.10g", x), collapse = ","), "]")
set.seed(5)
stints <- lapply(c(21.0, 22.4, 21.5, 20.6), function(t) {
  v <- rep(seq(19, 24, by = 1), 2); list(speed = v, clean = as.integer(runif(length(v)) < plogis((t - v) / 0.8)))
})
r <- one(stints)
cat("-- inputs.json --\n{\"stints\":[", paste(sapply(stints, function(a) paste0("{\"speed\":", f(a$speed), ",\"clean\":", f(a$clean), "}")), collapse = ","), "]}\n", sep = "")
cat("-- expected.json --\n{\"threshold\":", f(r$threshold), ",\"se\":", f(r$se), ",\"width\":", sprintf("%.10g", r$width), "}\n", sep = "")
