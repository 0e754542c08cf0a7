# Writes the reference values of this folder, with base R and MASS alone:
#
#   Rscript generate.R
#
# Every computation is set up another way than in the package that is tested:
# continuous sizes and abilities on grids many times finer, refits after literally
# deleting a judge, matrices solved, outcomes enumerated. All data are invented.

v <- paste0("R ", R.version$major, ".", R.version$minor)
d <- function(x) ifelse(is.na(x), "", sprintf("%.17g", x))
out <- function(file, ...) write.csv(data.frame(..., source = source_is), file, row.names = FALSE, quote = TRUE)

# ---- pc of the methods -------------------------------------------------------
quad <- function(f) integrate(f, -Inf, Inf, rel.tol = 1e-11, subdivisions = 500)$value
pc <- list(
  "triangle" = function(s) 1 - pf(3, 1, 1, ncp = 2 * s^2 / 3), # squared difference of differences, non-central F
  "paired comparison" = function(s) pnorm(s / sqrt(2)),
  "duo-trio" = function(s) 1 - pnorm(s / sqrt(2)) - pnorm(s / sqrt(6)) + 2 * pnorm(s / sqrt(2)) * pnorm(s / sqrt(6)),
  "3-AFC" = function(s) quad(function(z) pnorm(z)^2 * dnorm(z - s)),
  "tetrad" = function(s) 1 - 2 * quad(function(z) dnorm(z) * (2 * pnorm(z) * pnorm(z - s) - pnorm(z - s)^2))
)
knots <- seq(0, 40, by = 0.02)
curve_of <- lapply(names(pc), function(m) {
  y <- sapply(pmin(knots, 16), pc[[m]])
  y[1] <- c("triangle" = 1/3, "paired comparison" = 1/2, "duo-trio" = 1/2, "3-AFC" = 1/3, "tetrad" = 1/3)[m]
  f <- splinefun(knots, pmin(y, 1 - 1e-6), method = "natural")
  function(s) pmin(f(pmin(s, 40)), 1 - 1e-6)
})
names(curve_of) <- names(pc)
chance <- c("triangle" = 1/3, "paired comparison" = 1/2, "duo-trio" = 1/2, "3-AFC" = 1/3, "tetrad" = 1/3)

# ---- difficulty and ability ---------------------------------------------------
set.seed(20)
abilities <- c(1, 1, 1.1, 0.9, 1, 0.1, 2)
truth <- c(0, 1.5, 0, 2, 1, 3, 0, 1.2, 5, 2.5, 0.8, 1.6, 0, 2.2, 1.5, 1.5)
methods <- rep(names(pc), length.out = length(truth))
known <- rep(0, length(truth)); known[15] <- 1.5
data <- do.call(rbind, lapply(seq_along(truth), function(t) do.call(rbind, lapply(seq_along(abilities), function(j) {
  if (t == 16 && j != 1) return(NULL)                    # nobody else answered
  if ((t + j) %% 4 == 0 && t < 15) return(NULL)          # not everybody sits in every test
  n <- c(1, 2, 3, 4)[t %% 4 + 1]
  data.frame(test = t - 1, method = methods[t], known = known[t], judge = j - 1, n = n,
             x = rbinom(1, n, curve_of[[methods[t]]](abilities[j] * truth[t])))
}))))
source_is <- paste0("invented, ", v, " rbinom")
out("panel_data.csv", data)

size <- seq(0.005, 6 + 0.15, by = 0.01)                   # middles of cells of 0.01, up to the end of the model's last cell
us <- seq(-3, 3, by = 0.02)
over <- function(tau) { w <- dnorm(us, 0, tau); w / sum(w) }
pmf <- lapply(seq_len(nrow(data)), function(i)           # of every count: size × ln ability
  outer(if (data$known[i] > 0) data$known[i] else c(0, size), exp(us), function(s, a) dbinom(data$x[i], data$n[i], curve_of[[data$method[i]]](s * a))))
panel_pc <- function(method, tau, at) sapply(at, function(s) sum(over(tau) * curve_of[[method]](s * exp(us))))
prior <- function(par) { k <- exp(par[3]); h <- (k - 1) * log(size) - k * (size / exp(par[2]))^2 / 2; h <- exp(h - max(h)); c(plogis(par[1]), plogis(-par[1]) * h / sum(h)) }
weak <- function(par) -(par[1] / 1.5)^2 / 2 - ((par[2] - log(1.5)) / 0.7)^2 / 2 - par[3]^2 / 2
rows_of <- function(t, but = -1) which(data$test == t & data$judge != but & data$known == 0)
fit_sizes <- function(like, but = -1) {                   # like: per count, over sizes
  f <- function(par) {
    p <- prior(par)
    -weak(par) - sum(sapply(unique(data$test[data$known == 0]), function(t) {
      l <- rep(1, length(size) + 1)
      for (i in rows_of(t, but)) l <- l * like[[i]]
      log(sum(p * l))
    }))
  }
  optim(c(0, log(1.5), 0), f, method = "BFGS", control = list(reltol = 1e-14))$par
}
left_out <- function(tau, deleted = TRUE) {
  w <- over(tau)
  like <- lapply(seq_len(nrow(data)), function(i) as.vector(pmf[[i]] %*% w))
  all <- fit_sizes(like)
  judges <- sort(unique(data$judge))
  without <- lapply(judges, function(j) if (deleted) fit_sizes(like, j) else all)
  posts <- lapply(seq_len(nrow(data)), function(i) {
    if (data$known[i] > 0) return(NULL)
    l <- prior(without[[data$judge[i] + 1]])
    for (k in rows_of(data$test[i], data$judge[i])) l <- l * like[[k]]
    l / sum(l)
  })
  list(all = all, without = without, posts = posts, like = like)
}
counting <- function(i, tau, post) {
  if (data$known[i] > 0) return("counts")
  if (length(rows_of(data$test[i], data$judge[i])) == 0) return("nobody-else")
  p <- sum(post * panel_pc(data$method[i], tau, c(0, size)))
  if (p < chance[data$method[i]] + 0.02) "too-hard" else if (p > 0.95) "too-easy" else "counts"
}
ability_likelihood <- function(f, tau) lapply(sort(unique(data$judge)), function(j) {
  l <- rep(0, length(us))
  for (i in which(data$judge == j)) if (counting(i, tau, f$posts[[i]]) == "counts")
    l <- l + log(if (data$known[i] > 0) as.vector(pmf[[i]]) else as.vector(f$posts[[i]] %*% pmf[[i]]))
  l
})
best_spread <- function(ls) exp(optimize(function(t) -(t - log(0.3))^2 / 2 / 0.7^2 +
  sum(sapply(ls, function(l) log(sum(over(exp(t)) * exp(l))))), log(c(0.02, 1.2)), maximum = TRUE, tol = 1e-8)$maximum)

tau1 <- best_spread(ability_likelihood(left_out(0.3, FALSE), 0.3)) # the first round deletes nobody from the prior
f <- left_out(tau1)
ls <- ability_likelihood(f, tau1)
tau2 <- best_spread(ls)
source_is <- paste0(v, ": d' in cells of 0.01, ln ability in steps of 0.02, optim; every judge deleted and all refitted")
fixed <- left_out(0.3)
rows <- lapply(seq_len(nrow(data)), function(i) {
  if (data$known[i] > 0) return(NULL)
  p <- fixed$posts[[i]]; m <- panel_pc(data$method[i], 0.3, c(0, size)); s <- c(0, size)
  data.frame(test = data$test[i], judge = data$judge[i], nothing = d(p[1]), mean = d(sum(p * s)), sd = d(sqrt(sum(p * s^2) - sum(p * s)^2)),
             pc = d(sum(p * m)), pc_sd = d(sqrt(sum(p * m^2) - sum(p * m)^2)), counting = counting(i, 0.3, p))
})
out("left_out.csv", do.call(rbind, rows))
tails <- function(l, q) { w <- exp(l - max(l)) * over(tau2); c <- cumsum(w / sum(w)); approx(c, us + 0.01, q, ties = "ordered")$y }
out("abilities.csv", do.call(rbind, lapply(seq_along(ls), function(j) {
  w <- exp(ls[[j]] - max(ls[[j]])) * over(tau2); w <- w / sum(w); q <- exp(tails(ls[[j]], c(0.025, 0.5, 0.975)))
  i <- which(data$judge == j - 1); i <- i[sapply(i, function(k) counting(k, tau1, f$posts[[k]]) == "counts")]
  e <- sapply(i, function(k) data$n[k] * if (data$known[k] > 0) panel_pc(data$method[k], tau1, data$known[k]) else sum(f$posts[[k]] * panel_pc(data$method[k], tau1, c(0, size))))
  vr <- sapply(i, function(k) { p <- if (data$known[k] > 0) 1 else f$posts[[k]]
    m <- panel_pc(data$method[k], tau1, if (data$known[k] > 0) data$known[k] else c(0, size)); n <- data$n[k]
    sum(p * n * m * (1 - m)) + n^2 * (sum(p * m^2) - sum(p * m)^2) })
  data.frame(judge = j - 1, sets = sum(data$n[i]), correct = sum(data$x[i]), expected = d(sum(e)), sd = d(sqrt(sum(vr))),
             log_mean = d(sum(w * us)), log_sd = d(sqrt(sum(w * us^2) - sum(w * us)^2)), lower = d(q[1]), median = d(q[2]), upper = d(q[3]))
})))
out("panel_fit.csv", data.frame(spread_given = d(0.3), nothing = d(plogis(fixed$all[1])), scale = d(exp(fixed$all[2])), shape = d(exp(fixed$all[3])), spread_first = d(tau1), spread = d(tau2)))

# ---- shares shrunk by the beta-binomial ---------------------------------------
shares <- rbind(data.frame(set = "mixed", chance = "1/3", x = c(4, 40, 20, 9, 12, 33, 18, 25, 7, 30, 2, 11), n = c(5, 55, 40, 30, 20, 50, 50, 40, 20, 45, 6, 30)),
                data.frame(set = "pairs", chance = "1/2", x = c(12, 11, 5, 12, 5, 8, 12, 6, 10, 12, 7, 12), n = 12))
source_is <- paste0(v, ": optim of the chance-corrected beta-binomial by integrate over ability; posterior by integrate, uniroot")
out("shrunk_shares.csv", do.call(rbind, lapply(split(shares, shares$set), function(g) {
  c0 <- eval(parse(text = as.character(g$chance[1])))
  like <- function(pi, x, n) dbinom(x, n, c0 + (1 - c0) * pi)
  cut <- function(a, b, x, n, hi, f = function(p) 1) integrate(function(u) { p <- qbeta(u, a, b); f(p) * like(p, x, n) }, 0, pbeta(hi, a, b), rel.tol = 1e-9, subdivisions = 1000)$value
  ab <- function(par) { m <- plogis(par[1]); k <- plogis(par[2]); c(m * (1 - k) / k, (1 - m) * (1 - k) / k) }
  best <- optim(c(0, -1), function(par) { q <- ab(par); -sum(log(mapply(function(x, n) cut(q[1], q[2], x, n, 1), g$x, g$n))) },
                control = list(reltol = 1e-14, maxit = 5000))$par
  q <- ab(best)
  do.call(rbind, lapply(seq_len(nrow(g)), function(i) {
    x <- g$x[i]; n <- g$n[i]; all <- cut(q[1], q[2], x, n, 1)
    m <- cut(q[1], q[2], x, n, 1, function(p) p) / all
    at <- function(t) uniroot(function(h) cut(q[1], q[2], x, n, h) / all - t, c(1e-12, 1), tol = 1e-10)$root
    data.frame(set = g$set[i], chance = g$chance[i], x = x, n = n, mu = d(plogis(best[1])), gamma = d(plogis(best[2])),
               pc = d(c0 + (1 - c0) * m), lower = d(c0 + (1 - c0) * at(0.025)), upper = d(c0 + (1 - c0) * at(0.975)))
  }))
})))

# ---- the same with mean and overdispersion integrated over ---------------------
# Mu uniform; logit Gamma normal around logit 0.1, standard deviation 1.4, cut at 3; one
# assessor in 20 uniform.
wide <- rbind(shares, data.frame(set = "three", chance = "1/3", x = c(4, 40, 12), n = c(5, 55, 30)), data.frame(set = "alike", chance = "1/3", x = c(6, 7, 6, 7), n = 12),
              data.frame(set = "guesser", chance = "1/3", x = c(13, 27, 29, 26, 28, 27, 30, 26), n = 40))
source_is <- paste0(v, ": sums over 80 Mu and 61 Gamma of beta mixtures by lbeta; pbeta, uniroot")
out("integrated_shares.csv", do.call(rbind, lapply(split(wide, wide$set), function(g) {
  c0 <- eval(parse(text = as.character(g$chance[1])))
  z <- seq(-3, 3, length.out = 61); at <- expand.grid(mu = (1:80 - 0.5) / 80, z = z); gamma <- plogis(qlogis(0.1) + 1.4 * at$z)
  a <- at$mu * (1 - gamma) / gamma; b <- (1 - at$mu) * (1 - gamma) / gamma
  half <- function(x, n, a, b) { k <- 0:x # guessed right
    sapply(k, function(k) dbinom(k, n, c0) * exp(lchoose(n - k, x - k) + lbeta(a + x - k, b + n - x) - lbeta(a, b))) }
  parts <- function(x, n) cbind(0.95 * half(x, n, a, b), 0.05 * half(x, n, rep(1, length(a)), 1))
  lp <- dnorm(at$z, log = TRUE) + rowSums(mapply(function(x, n) log(rowSums(parts(x, n))), g$x, g$n))
  w <- exp(lp - max(lp)); w <- w / sum(w)
  do.call(rbind, lapply(seq_len(nrow(g)), function(i) { x <- g$x[i]; n <- g$n[i]
    m <- parts(x, n); m <- m / rowSums(m) * w; keep <- m > 1e-12; k <- matrix(0:x, nrow(m), x + 1, byrow = TRUE)
    up <- cbind(a + x - k, 1 + x - k)[keep]; dn <- cbind(matrix(b + n - x, nrow(m), x + 1), matrix(1 + n - x, nrow(m), x + 1))[keep]; m <- m[keep] / sum(m[keep])
    q <- function(t) uniroot(function(p) sum(m * pbeta(p, up, dn)) - t, c(0, 1), tol = 1e-7)$root
    data.frame(set = g$set[i], chance = g$chance[i], x = x, n = n, pc = d(c0 + (1 - c0) * sum(m * up / (up + dn))), lower = d(c0 + (1 - c0) * q(0.025)), upper = d(c0 + (1 - c0) * q(0.975)))
  }))
})))

# ---- one d' for several methods ------------------------------------------------
pools <- list(list("two", c("triangle", "duo-trio"), c(15, 22), c(24, 30)), list("five", names(pc), c(12, 17, 16, 15, 14), rep(20, 5)),
              list("chance", c("triangle", "paired comparison"), c(8, 13), c(30, 30)), list("uneven", c("3-AFC", "tetrad", "duo-trio"), c(29, 6, 20), c(30, 18, 40)))
source_is <- paste0(v, ": optimize and uniroot of the log-likelihood")
out("pooled_dprime.csv", do.call(rbind, lapply(pools, function(g) {
  l <- function(s) sum(mapply(function(m, x, n) dbinom(x, n, pc[[m]](s), log = TRUE), g[[2]], g[[3]], g[[4]]))
  best <- optimize(l, c(0, 8), maximum = TRUE, tol = 1e-10)$maximum
  if (best < 1e-3) best <- 0
  top <- if (best == 0) l(1e-9) else l(best)
  f <- function(s) 2 * (top - l(s)) - qchisq(0.95, 1)
  lower <- if (best == 0 || f(1e-9) < 0) 0 else uniroot(f, c(1e-9, best), tol = 1e-11)$root
  own <- sum(mapply(function(m, x, n) optimize(function(s) dbinom(x, n, pc[[m]](s), log = TRUE), c(0, 12), maximum = TRUE, tol = 1e-10)$objective, g[[2]], g[[3]], g[[4]]))
  data.frame(case = g[[1]], methods = paste(g[[2]], collapse = ";"), correct = paste(g[[3]], collapse = ";"), n = paste(g[[4]], collapse = ";"),
             dprime = d(best), lower = d(lower), upper = d(uniroot(f, c(best + 1e-9, 12), tol = 1e-11)$root), lr = d(2 * (own - top)))
})))
# All right, or none: the limit at which that has probability 0.025.
edges <- list(list("all", "triangle", 5, 5), list("all", c("triangle", "duo-trio"), c(5, 6), c(5, 6)), list("all", c("tetrad", "3-AFC", "paired comparison"), c(8, 4, 3), c(8, 4, 3)),
              list("all", "paired comparison", 2, 2), list("none", "triangle", 0, 3), list("none", c("triangle", "duo-trio"), c(0, 0), c(2, 3)), list("none", "tetrad", 0, 12))
source_is <- paste0(v, ": uniroot of the product of the probabilities less 0.025; 0 where d' = 0 is less probable than that")
out("pooled_edges.csv", do.call(rbind, lapply(edges, function(g) {
  p <- function(s) prod(mapply(function(m, n) (if (g[[1]] == "all") pc[[m]](s) else 1 - pc[[m]](s))^n, g[[2]], g[[4]])) - 0.025
  at0 <- prod(mapply(function(m, n) { c0 <- c("triangle" = 1/3, "paired comparison" = 1/2, "duo-trio" = 1/2, "3-AFC" = 1/3, "tetrad" = 1/3)[m]; (if (g[[1]] == "all") c0 else 1 - c0)^n }, g[[2]], g[[4]])) - 0.025
  none <- if (g[[1]] == "all") at0 > 0 else at0 < 0
  data.frame(methods = paste(g[[2]], collapse = ";"), correct = paste(g[[3]], collapse = ";"), n = paste(g[[4]], collapse = ";"), limit = d(if (none) 0 else uniroot(p, c(1e-6, 12), tol = 1e-11)$root))
})))

# ---- charts of drift ------------------------------------------------------------
unit <- function(p, q) round(log(q / p) / 0.01)
arl <- function(p_right, p0, p1, h) {                     # h in hundredths; solves (I - Q) m = 1
  q <- matrix(0, h, h)
  for (s in 0:(h - 1)) for (o in list(c(unit(p0, p1), p_right), c(unit(1 - p0, 1 - p1), 1 - p_right))) {
    to <- max(0, s + o[1]); if (to < h) q[s + 1, to + 1] <- q[s + 1, to + 1] + o[2]
  }
  solve(diag(h) - q, rep(1, h))[1]
}
source_is <- paste0(v, ": solve() of the Markov chain of the sum in hundredths")
g <- expand.grid(p0 = c(0.5, 0.7, 0.8, 0.9), drop = c(0.6, 0.8), h = c(60, 150, 250, 333))
g$p1 <- round(g$p0 * g$drop, 3)
out("drift_run_lengths.csv", data.frame(p0 = g$p0, p1 = g$p1, limit = g$h / 100,
  in_control = d(mapply(function(p0, p1, h) arl(p0, p0, p1, h), g$p0, g$p1, g$h)), drifted = d(mapply(function(p0, p1, h) arl(p1, p0, p1, h), g$p0, g$p1, g$h))))
w <- data.frame(p0 = c(0.7, 0.8, 0.6, 0.9), p1 = c(0.5, 0.55, 0.4, 0.6), wanted = c(100, 370, 50, 200))
source_is <- paste0(v, ": the first limit of those from 0.01 on, by solve()")
out("drift_limits.csv", data.frame(w, limit = mapply(function(p0, p1, a) { h <- 1; while (arl(p0, p0, p1, h) < a) h <- h + 1; h / 100 }, w$p0, w$p1, w$wanted)))
p0 <- c(0.8, 0.55, 0.7, 0.9, 0.6, 0.75, 0.5, 0.85, 0.65, 0.7, 0.8, 0.6, 0.9, 0.55); p1 <- round(1/3 + (p0 - 1/3) * 0.4, 4)
all <- as.matrix(expand.grid(rep(list(0:1), length(p0))))
source_is <- paste0(v, ": all 2^14 series of right and wrong")
out("drift_series.csv", do.call(rbind, lapply(c(0.5, 1, 1.5, 2, 3), function(h) {
  hit <- apply(all, 1, function(x) { s <- 0; for (i in seq_along(x)) { s <- max(0, s + if (x[i]) unit(p0[i], p1[i]) else unit(1 - p0[i], 1 - p1[i])); if (s >= 100 * h) return(TRUE) }; FALSE })
  data.frame(p0 = paste(p0, collapse = ";"), p1 = paste(p1, collapse = ";"), limit = h, false_alarm = d(sum(apply(all, 1, function(x) prod(ifelse(x == 1, p0, 1 - p0)))[hit])))
})))

# ---- sums of unlike answers -------------------------------------------------------
poisson_binomial <- function(p) { n <- length(p); w <- 2i * pi / (n + 1)
  z <- sapply(0:n, function(l) prod(1 - p + p * exp(w * l))); Re(sapply(0:n, function(k) sum(z * exp(-w * l_k(k, n)))) / (n + 1)) }
l_k <- function(k, n) k * (0:n)
set.seed(3)
source_is <- paste0(v, ": discrete Fourier transform of the characteristic function; absolute error 1e-14")
out("poisson_binomial.csv", do.call(rbind, lapply(c(1, 2, 7, 30, 120), function(n) {
  p <- round(runif(n, 0.3, 0.95), 3); m <- poisson_binomial(p); x <- unique(pmin(n, c(0, floor(n / 3), floor(2 * n / 3), n)))
  data.frame(n = n, p = paste(p, collapse = ";"), x = x, pmf = d(m[x + 1]), at_most = d(sapply(x, function(k) sum(m[1:(k + 1)]))), at_least = d(sapply(x, function(k) sum(m[(k + 1):(n + 1)]))))
})))

# ---- flags ---------------------------------------------------------------------------
trials <- list(c(0.5, 0.6, 0.7, 0.55, 0.65, 0.8, 0.5, 0.6, 0.7, 0.6, 0.5, 0.75, 0.6, 0.55, 0.7, 0.62), c(0.5, 0.6, 0.7), rep(0.6, 12), seq(0.4, 0.9, by = 0.05))
right <- c(3, 3, 12, 8)
low <- mapply(function(p, x) sum(poisson_binomial(p)[1:(x + 1)]), trials, right)
high <- mapply(function(p, x) sum(poisson_binomial(p)[(x + 1):(length(p) + 1)]), trials, right)
a <- p.adjust(as.vector(rbind(low, high)), "holm")
source_is <- paste0(v, ": Fourier transform as above; p.adjust")
out("flags.csv", data.frame(judge = 0:3, p = sapply(trials, paste, collapse = ";"), correct = right, p_weak = d(low), p_strong = d(high), adjusted_weak = d(a[c(1, 3, 5, 7)]), adjusted_strong = d(a[c(2, 4, 6, 8)])))

# ---- agreement --------------------------------------------------------------------------
k <- data.frame(both = c(40, 22, 10, 5, 60, 0), first = c(5, 8, 10, 1, 0, 7), second = c(7, 9, 10, 2, 20, 8), neither = c(20, 11, 10, 1, 5, 0))
kappa <- function(p) { r <- p[1] + p[2]; s <- p[1] + p[3]; e <- r * s + (1 - r) * (1 - s); (p[1] + p[4] - e) / (1 - e) }
source_is <- paste0(v, ": standard error by the delta method with numerical derivatives; cor; fisher.test")
out("agreement.csv", data.frame(k, t(apply(k, 1, function(x) {
  n <- sum(x); p <- x / n; h <- 1e-6
  g <- sapply(1:4, function(i) { up <- dn <- p; up[i] <- up[i] + h; dn[i] <- dn[i] - h; # derivatives with the share of the rest as it stands
    f <- function(q) { r <- q[1] + q[2]; s <- q[1] + q[3]; r0 <- q[3] + q[4]; s0 <- q[2] + q[4]; e <- r * s + r0 * s0; (q[1] + q[4] - e) / (1 - e) }
    (f(up) - f(dn)) / 2 / h })
  se <- sqrt((sum(g^2 * p) - sum(g * p)^2) / n)
  a <- rep(c(1, 1, 0, 0), x); b <- rep(c(1, 0, 1, 0), x)
  c(kappa = d(unname(kappa(p))), se = d(se), phi = d(suppressWarnings(cor(a, b))), p_value = d(fisher.test(matrix(x, 2))$p.value))
}))))

# ---- habits and guesses -------------------------------------------------------------------
w <- data.frame(m0 = c(6, 5, 9, 0, 0, 12, 1), m1 = c(7, 5, 3, 8, 0, 10, 2), m2 = c(5, 8, 4, 0, 9, 15, 0), k0 = c(6, 2, 9, 0, 0, 6, 1), k1 = c(1, 3, 0, 7, 0, 5, 0), k2 = c(2, 4, 1, 0, 2, 13, 0))
source_is <- paste0(v, ": expand.grid of dbinom; MASS::ginv of the covariance")
out("place_habit.csv", data.frame(w, t(apply(w, 1, function(r) {
  m <- r[1:3]; x <- function(k) c(k[2] + m[3] - k[3], k[1] + k[3], m[1] - k[1] + m[2] - k[2]) # k_i of m_i at the next place, the rest one further
  # next of 0 is 1, of 1 is 2, of 2 is 0
  x <- function(k) c(m[2] - k[2] + k[3], k[1] + m[3] - k[3], m[1] - k[1] + k[2])
  g <- as.matrix(expand.grid(0:m[1], 0:m[2], 0:m[3])); pr <- apply(g, 1, function(k) prod(dbinom(k, m, 0.5)))
  xs <- t(apply(g, 1, x)); e <- colSums(xs * pr); dv <- sweep(xs, 2, e); cv <- t(dv) %*% (dv * pr)
  t <- rowSums((dv %*% MASS::ginv(cv, tol = 1e-9)) * dv); o <- x(r[4:6]) - e; s <- as.numeric(o %*% MASS::ginv(cv, tol = 1e-9) %*% o)
  c(statistic = d(s), df = sum(eigen(cv)$values > 1e-9), p_value = d(sum(pr[t >= s - 1e-9])))
}))))
w <- data.frame(left_left = c(12, 8, 5), left_right = c(1, 4, 5), right_left = c(7, 5, 6), right_right = c(4, 8, 4))
source_is <- paste0(v, ": fisher.test of place served against right and wrong")
out("place_habit_two.csv", data.frame(w, p_value = d(apply(w, 1, function(r) fisher.test(matrix(c(r[1], r[2], r[4], r[3]), 2))$p.value))))
source_is <- paste0(v, ": outer sum of dbinom")
w <- data.frame(n_third = c(12, 20, 0, 9), x_third = c(7, 6, 0, 9), n_half = c(0, 10, 15, 4), x_half = c(0, 8, 4, 4))
out("guesses.csv", data.frame(w, t(apply(w, 1, function(r) { o <- outer(dbinom(0:r[1], r[1], 1/3), dbinom(0:r[3], r[3], 1/2)); s <- outer(0:r[1], 0:r[3], "+")
  c(p_more = d(sum(o[s >= r[2] + r[4]])), p_less = d(sum(o[s <= r[2] + r[4]]))) }))))
