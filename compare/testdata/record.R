# Makes the cases of testdata/golden/limma-3.54.1. R 4.2.2 with limma 3.54.1 and
# jsonlite (Debian 12). Run in this folder: Rscript record.R. Programmes are
# made up, from the seeds given.
suppressMessages({library(limma); library(jsonlite)})
num <- function(x) { x <- unname(x); if (is.matrix(x)) x else I(as.numeric(x)) }
proj <- function(X) diag(nrow(X)) - X %*% solve(crossprod(X)) %*% t(X)
walk <- function(p) outer(p, p, pmin) - min(p)

case <- function(name, where, seed, programmes, hetero, step, order) {
  set.seed(seed)
  rec <- do.call(rbind, lapply(seq_along(programmes), function(g) {
    n <- programmes[g]; pos <- cumsum(c(1, sample(2:4, n - 1, TRUE)))
    s <- exp(rnorm(1, 0, hetero))
    w <- cumsum(c(0, rnorm(n - 1, 0, step * sqrt(diff(pos)))))
    data.frame(programme = paste0("day ", g), position = pos, value = round(8 * exp((0.3 * pos * rnorm(1) + w + rnorm(n, 0, s)) / 100), 4))
  }))
  order <- strsplit(order, " ")[[1]]; n <- length(order)
  own <- data.frame(code = order, position = seq_along(order), value = round(8 * exp((c(K = 0, P = 2, W = -1)[order] - 0.4 * seq_along(order) + rnorm(n)) / 100), 4))
  own$code <- relevel(factor(own$code), "K")
  fit <- lm(log(value) ~ code + position, own)
  v0 <- summary(fit)$sigma^2; d0 <- fit$df.residual
  parts <- lapply(split(rec, factor(rec$programme, unique(rec$programme))), function(r) {
    f <- lm(log(value) ~ position, r)
    M <- proj(cbind(1, r$position)); K <- walk(r$position)
    N <- qr.Q(qr(cbind(1, r$position)), complete = TRUE)[, -(1:2), drop = FALSE]
    list(v = summary(f)$sigma^2, d = f$df.residual, trace = sum(diag(M %*% K)), z = as.numeric(t(N) %*% log(r$value)), k = t(N) %*% K %*% N)
  })
  v <- sapply(parts, `[[`, "v"); d <- sapply(parts, `[[`, "d")
  pooled <- sum(v * d) / sum(d)
  e <- list(own_variance = v0, own_df = d0, record_variance = pooled, record_df = sum(d))
  if (length(programmes) >= 10) {
    p <- fitFDist(v, d)
    stopifnot(is.finite(p$df2))
    # Variances of the record with this programme's drawn towards their prior.
    e$prior_variance <- p$scale; e$prior_df <- p$df2
    e$variance <- (p$df2 * p$scale + d0 * v0) / (p$df2 + d0); e$df <- min(sum(d), p$df2) + d0
    ref <- p$scale; rdf <- p$df2
  } else { e$variance <- (sum(v * d) + d0 * v0) / (sum(d) + d0); e$df <- sum(d) + d0; ref <- pooled; rdf <- sum(d) }
  e$f <- v0 / ref; e$f_limit <- qf(0.95, d0, rdf); e$f_p <- pf(e$f, d0, rdf, lower.tail = FALSE)
  # The walk: restricted likelihood of the contrasts that each programme's line leaves.
  minus2 <- function(t) { step <- exp(t[1]); noise <- exp(t[2]); sum(sapply(parts, function(q) { S <- step * q$k + noise * diag(length(q$z)); as.numeric(determinant(S)$modulus) + t(q$z) %*% solve(S, q$z) })) }
  best <- NULL
  for (start in c(-14, -11, -9)) {
    o <- optim(c(start, log(pooled)), minus2, control = list(reltol = 1e-15, maxit = 10000))
    for (i in 1:3) o <- optim(o$par, minus2, method = "BFGS", control = list(reltol = 1e-16, maxit = 10000, ndeps = c(1e-5, 1e-5)))
    if (is.null(best) || o$value < best$value - 1e-12) best <- o
  }
  stopifnot(exp(best$par[1]) > 1e-9)
  e$step_variance <- exp(best$par[1])
  X <- model.matrix(fit)
  e$covered <- (sum(sapply(parts, `[[`, "trace")) + sum(diag(proj(X) %*% walk(own$position)))) / (sum(d) + d0)
  # Standard errors: by the bracket, and by the line.
  K <- walk(own$position)
  se <- function(w) { s2 <- e$variance; noise <- max(0, s2 - e$step_variance * e$covered); sqrt(max(s2 * sum(w^2), noise * sum(w^2) + e$step_variance * t(w) %*% K %*% w)) }
  k <- which(own$code == "K")
  bracket <- function(c) { w <- rep(0, n); o <- which(own$code == c); for (i in o) { b <- max(k[k < i]); f <- min(k[k > i]); t <- (i - b) / (f - b); w[i] <- w[i] + 1 / length(o); w[b] <- w[b] - (1 - t) / length(o); w[f] <- w[f] - t / length(o) }; w }
  line <- function(c) as.numeric(solve(crossprod(X), t(X))[paste0("code", c), ])
  e$codes <- c("P", "W"); e$se_bracket <- num(sapply(e$codes, function(c) se(bracket(c)))); e$se_line <- num(sapply(e$codes, function(c) se(line(c))))
  input <- list(control = "K", order = as.character(own$code), values = num(own$value),
    record = lapply(seq_len(nrow(rec)), function(i) list(programme = rec$programme[i], position = rec$position[i], value = rec$value[i])))
  write(c("kind: independent", paste("where:", where), "tol: 1e-5",
    "tol-why: relative; the walk's step by a general optimiser, all else to rounding",
    "made-by: R 4.2.2, lm, limma 3.54.1 (fitFDist), optim, script testdata/record.R",
    "-- inputs.json --", toJSON(input, digits = NA, auto_unbox = TRUE), "-- expected.json --", toJSON(e, digits = NA, auto_unbox = TRUE)),
    paste0("golden/limma-3.54.1/", name, ".txtar"))
}
dir.create("golden/limma-3.54.1", showWarnings = FALSE)
case("record-pooled", "made-up record of six programmes of four to six control stints, pooled plainly, with a random walk", 37, c(4, 5, 4, 6, 5, 4), 0, 0.6, "K P W K W P K")
case("record-moderated", "made-up record of fourteen programmes that scatter unlike each other, moderated, with a random walk", 37, c(4, 5, 4, 6, 5, 4, 5, 6, 4, 5, 6, 5, 4, 5), 0.5, 0.5, "K P P W P W W K W P K")
