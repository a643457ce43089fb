# Makes golden/r-4.2.2: first a model with a random walk, by the
# formulas of Kenward and Roger (1997) written out with n x n matrices, and the
# effects by Henderson's equations. R 4.2.2, numDeriv, jsonlite.
suppressMessages({library(numDeriv); library(jsonlite)})
set.seed(31)
runs <- c(4, 3, 5, 2, 6, 3, 4, 4, 3, 5); at <- rep(seq_along(runs), runs)
tyre <- c("K", "P", "R", "K", "R", "P", "K", "P", "R", "K")[at]
walk <- cumsum(rnorm(10, 0, 0.4))
y <- round(60 + c(K = 0, P = 1, R = -0.7)[tyre] + walk[at] + rnorm(10, 0, 0.2)[at] + rnorm(length(at), 0, 0.5), 2)
n <- length(y); X <- cbind(1, tyre == "P", tyre == "R"); p <- 3
V <- list(outer(at, at, pmin) - 1, outer(at, at, "==") * 1, diag(n))
known <- 0.04 # the stint's variance is held
Sigma <- function(t) t[1] * V[[1]] + known * V[[2]] + t[2] * V[[3]]
crit <- function(t) { S <- Sigma(t); Si <- solve(S); XtS <- t(X) %*% Si; b <- solve(XtS %*% X, XtS %*% y); r <- y - X %*% b
  as.numeric(determinant(S)$modulus + determinant(XtS %*% X)$modulus + t(r) %*% Si %*% r + (n - p) * log(2 * pi)) }
t <- optim(c(0.2, 0.2), crit, method = "L-BFGS-B", lower = 1e-4)$par
for (i in 1:6) t <- t - solve(hessian(crit, t), grad(crit, t))
S <- Sigma(t); Si <- solve(S); Phi <- solve(t(X) %*% Si %*% X); b <- Phi %*% t(X) %*% Si %*% y
D <- V[c(1, 3)]
P <- lapply(D, function(d) -t(X) %*% Si %*% d %*% Si %*% X)
Q <- function(i, j) t(X) %*% Si %*% D[[i]] %*% Si %*% D[[j]] %*% Si %*% X
tr <- function(m) sum(diag(m)); I <- matrix(0, 2, 2)
for (i in 1:2) for (j in 1:2) I[i, j] <- 0.5 * (tr(Si %*% D[[i]] %*% Si %*% D[[j]]) - tr(2 * Phi %*% Q(i, j) - Phi %*% P[[i]] %*% Phi %*% P[[j]]))
W <- solve(I); L <- 0; for (i in 1:2) for (j in 1:2) L <- L + W[i, j] * (Q(i, j) - P[[i]] %*% Phi %*% P[[j]])
PhiA <- Phi + 2 * Phi %*% L %*% Phi
df <- sapply(1:3, function(k) { l <- diag(3)[, k, drop = FALSE]; Th <- l %*% solve(t(l) %*% Phi %*% l) %*% t(l); A2 <- 0
  for (i in 1:2) for (j in 1:2) A2 <- A2 + W[i, j] * tr(Th %*% Phi %*% P[[i]] %*% Phi) * tr(Th %*% Phi %*% P[[j]] %*% Phi); 2 / A2 })
vk <- function(t, k) solve(t(X) %*% solve(Sigma(t)) %*% X)[k, k]
sat <- sapply(1:3, function(k) { g <- grad(vk, t, k = k); 2 * vk(t, k)^2 / as.numeric(t(g) %*% (2 * solve(hessian(crit, t))) %*% g) })
# Henderson: walk by steps (Z of cumulated steps), stint by groups.
Zw <- outer(at, 2:10, ">=") * 1; Zs <- outer(at, 1:10, "==") * 1; Z <- cbind(Zw, Zs); G <- diag(c(rep(t[1], 9), rep(known, 10)))
C <- rbind(cbind(crossprod(X), crossprod(X, Z)), cbind(crossprod(Z, X), crossprod(Z) + t[2] * solve(G))) / t[2]
u <- solve(C, c(crossprod(X, y), crossprod(Z, y)) / t[2]); Ci <- solve(C)
path <- Zw %*% u[4:12]; pathSE <- sqrt(diag(Zw %*% Ci[4:12, 4:12] %*% t(Zw)))
out <- list(walk = t[1], residual = t[2], criterion = crit(t), coef = I(as.numeric(b)), se = I(sqrt(diag(Phi))), cov_kr = unname(PhiA), df_kr = I(df), df_satterthwaite = I(sat),
  path = I(as.numeric(path)), path_se = I(pathSE), stint = I(u[13:22]), stint_se = I(sqrt(diag(Ci))[13:22]))
dir.create("golden/r-4.2.2", FALSE, TRUE)
write(c("kind: independent", "where: made-up stints with a random walk, the stint's variance held at 0.04; Kenward-Roger 1997 and Henderson's equations written out", "tol: 1e-6",
  "tol-why: relative; numerical derivatives of the script", "made-by: R 4.2.2, numDeriv, script testdata/dense.R", "-- inputs.json --",
  toJSON(list(y = y, tyre = tyre, stint = as.character(at), position = at, held = known), digits = NA, auto_unbox = TRUE), "-- expected.json --", toJSON(out, digits = NA, auto_unbox = TRUE)), "golden/r-4.2.2/walk-and-stints.txtar")

# Then the degrees of freedom of a model with weights, whose variances lme4.R has found.
f <- strsplit(paste(readLines("golden/lme4-1.1-31/programme-weights.txtar"), collapse = "\n"), "-- [a-z]+.json --\n")[[1]]
input <- fromJSON(f[2]); th <- fromJSON(f[3])$variances$value
w <- input$numbers$w; g <- input$factors$stint; X <- cbind(model.matrix(~factor(input$factors$tyre, c("K", "P", "R", "T", "W"))), input$numbers$position); p <- ncol(X)
D <- list(outer(g, g, "==") * 1, diag(1 / w)); S <- th[1] * D[[1]] + th[2] * D[[2]]; Si <- solve(S); Phi <- solve(t(X) %*% Si %*% X)
P <- lapply(D, function(d) -t(X) %*% Si %*% d %*% Si %*% X)
for (i in 1:2) for (j in 1:2) I[i, j] <- 0.5 * (tr(Si %*% D[[i]] %*% Si %*% D[[j]]) - tr(2 * Phi %*% Q(i, j) - Phi %*% P[[i]] %*% Phi %*% P[[j]]))
W <- solve(I); L <- 0; for (i in 1:2) for (j in 1:2) L <- L + W[i, j] * (Q(i, j) - P[[i]] %*% Phi %*% P[[j]])
df <- sapply(1:p, function(k) { l <- diag(p)[, k, drop = FALSE]; Th <- l %*% solve(t(l) %*% Phi %*% l) %*% t(l); A2 <- 0
  for (i in 1:2) for (j in 1:2) A2 <- A2 + W[i, j] * tr(Th %*% Phi %*% P[[i]] %*% Phi) * tr(Th %*% Phi %*% P[[j]] %*% Phi); 2 / A2 })
write(c("kind: independent", "where: the made-up programme with weights; Kenward-Roger 1997 written out with n x n matrices at lme4's variances", "tol: 1e-6", "tol-why: relative; the peer's optimum",
  "made-by: R 4.2.2, script testdata/dense.R", "-- inputs.json --", strsplit(f[2], "\n")[[1]], "-- expected.json --",
  toJSON(list(cov_kr = unname(Phi + 2 * Phi %*% L %*% Phi), df_kr = I(df)), digits = NA, auto_unbox = TRUE)), "golden/r-4.2.2/weights.txtar")
