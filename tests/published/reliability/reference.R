# Makes reference.json: data sets that R packages carry, with the answers of R and of its packages survival, lme4, nortest and
# robustbase. Run: Rscript tests/published/reliability/reference.R > tests/published/reliability/reference.json
suppressPackageStartupMessages({
  library(jsonlite); library(survival); library(MASS); library(lme4); library(nortest); library(robustbase)
})
out <- list()

# Distributions, both tails (stats).
g <- list()
for (p in c(1e-10, 1e-4, 0.025, 0.3, 0.5, 0.9, 0.975, 0.9999)) {
  g[[length(g) + 1]] <- list(p = p, normal = qnorm(p), t1 = qt(p, 1), t5 = qt(p, 5), t60 = qt(p, 60),
    chi1 = qchisq(p, 1), chi7 = qchisq(p, 7), chi100 = qchisq(p, 100), f37 = qf(p, 3, 7), f1_40 = qf(p, 1, 40),
    beta = qbeta(p, 2.5, 0.5))
}
out$quantiles <- g
out$tails <- list(normal = pnorm(10, lower.tail = FALSE), t = pt(12, 9, lower.tail = FALSE),
  chi = pchisq(90, 4, lower.tail = FALSE), f = pf(50, 3, 20, lower.tail = FALSE), beta = pbeta(0.99, 2, 9, lower.tail = FALSE))

# Normality (stats, nortest).
shape <- function(name, x) list(name = name, values = x,
  shapiro = unname(shapiro.test(x)$statistic), shapiroP = shapiro.test(x)$p.value,
  anderson = unname(ad.test(x)$statistic), andersonP = ad.test(x)$p.value)
out$normality <- list(shape("rivers", rivers), shape("log rivers", log(rivers)), shape("women$weight", women$weight),
  shape("morley$Speed", morley$Speed), shape("first ten of precip", unname(precip[1:10])),
  shape("trees$Volume", trees$Volume))
out$shapiro3 <- shapiro.test(c(1, 2, 4))$p.value

# One sample (stats).
t <- t.test(trees$Volume)
n <- nrow(trees)
out$sample <- list(values = trees$Volume, mean = unname(t$estimate), low = t$conf.int[1], high = t$conf.int[2],
  sd = sd(trees$Volume), sdLow = sd(trees$Volume) * sqrt((n - 1) / qchisq(0.975, n - 1)),
  sdHigh = sd(trees$Volume) * sqrt((n - 1) / qchisq(0.025, n - 1)),
  quartiles = unname(quantile(trees$Volume, c(0.25, 0.5, 0.75))))
out$morley <- morley$Speed

# Groups and multiplicity (stats).
w <- oneway.test(weight ~ feed, chickwts); k <- kruskal.test(weight ~ feed, chickwts)
rest <- t.test(weight ~ (feed != "casein"), chickwts)
out$chickwts <- list(values = chickwts$weight, groups = as.character(chickwts$feed),
  welch = unname(w$statistic), welchP = w$p.value, df = unname(w$parameter),
  kruskal = unname(k$statistic), kruskalP = k$p.value,
  casein = list(low = rest$conf.int[1], high = rest$conf.int[2], p = rest$p.value))
p <- c(0.01, 0.02, 0.022, 0.3, 0.04, 0.0007, 0.9, 0.04)
out$adjust <- list(p = p, holm = p.adjust(p, "holm"), fdr = p.adjust(p, "BH"))

# Trend (stats): yearly flow of the Nile; cor.test gives Kendall's z, lm the regression.
y <- as.numeric(Nile)[1:40]; x <- 1:40
kt <- suppressWarnings(cor.test(x, y, method = "kendall", exact = FALSE, continuity = TRUE))
s <- outer(seq_along(x), seq_along(x), function(i, j) ifelse(i < j, (y[j] - y[i]) / (x[j] - x[i]), NA))
fit <- lm(y ~ x)
out$trend <- list(values = y, z = unname(kt$statistic), p = kt$p.value, slope = median(s, na.rm = TRUE),
  regression = unname(coef(fit)[2]), low = confint(fit)[2, 1], high = confint(fit)[2, 2])

# Variance components (lme4).
components <- function(name, model, value, factors) {
  v <- as.data.frame(VarCorr(model))
  list(name = name, values = value, factors = factors, sd = as.list(setNames(v$sdcor, v$grp)),
    mean = unname(fixef(model)), criterion = as.numeric(-2 * logLik(model)))
}
control <- lmerControl(optCtrl = list(xtol_rel = 1e-12, xtol_abs = 1e-12, ftol_abs = 1e-12, ftol_rel = 1e-15))
d1 <- lmer(Yield ~ 1 + (1 | Batch), Dyestuff, control = control)
d2 <- suppressMessages(lmer(Yield ~ 1 + (1 | Batch), Dyestuff2, control = control))
pa <- lmer(strength ~ 1 + (1 | sample) + (1 | batch), Pastes, control = control)
pe <- lmer(diameter ~ 1 + (1 | plate) + (1 | sample), Penicillin, control = control)
out$components <- list(
  components("Dyestuff", d1, Dyestuff$Yield, list(Batch = as.character(Dyestuff$Batch))),
  components("Dyestuff2", d2, Dyestuff2$Yield, list(Batch = as.character(Dyestuff2$Batch))),
  components("Pastes", pa, Pastes$strength, list(sample = as.character(Pastes$sample), batch = as.character(Pastes$batch))),
  components("Penicillin", pe, Penicillin$diameter, list(plate = as.character(Penicillin$plate), sample = as.character(Penicillin$sample))))

# Crossed analysis of variance with interaction (nlme's Machines, by aov).
M <- nlme::Machines
tab <- summary(aov(score ~ factor(as.character(Worker)) * Machine, M))[[1]]
out$machines <- list(values = M$score, worker = as.character(M$Worker), machine = as.character(M$Machine),
  df = tab[["Df"]], squares = tab[["Sum Sq"]], f = tab[["F value"]][3], p = tab[["Pr(>F)"]][3])

# Robust scatter (robustbase).
mcd <- function(name, x) {
  x <- as.matrix(x); m <- covMcd(x, nsamp = "deterministic", alpha = 0.75, use.correction = FALSE)
  list(name = name, rows = unname(x), subset = sort(m$best), center = unname(m$center), cov = unname(m$cov),
    rawCenter = unname(m$raw.center))
}
out$robust <- list(mcd("hbk", hbk[, 1:3]), mcd("starsCYG", starsCYG), mcd("stackloss", stackloss), mcd("milk", milk[, 1:4]))

# Life data (survival).
steps <- function(f) list(time = f$time, risk = f$n.risk, failed = f$n.event, survival = f$surv, error = f$surv * f$std.err,
  low = f$lower, high = f$upper)
km <- function(type) steps(survfit(Surv(time, status) ~ 1, aml, conf.type = type))
out$aml <- list(time = aml$time, status = aml$status, group = as.character(aml$x),
  loglog = km("log-log"), log = km("log"), plain = km("plain"))
sd1 <- survdiff(Surv(time, status) ~ x, aml)
out$amlLogRank <- list(chisq = sd1$chisq, observed = sd1$obs, expected = sd1$exp)
sd4 <- survdiff(Surv(time, status) ~ celltype, veteran)
out$veteran <- list(time = veteran$time, status = veteran$status, group = as.character(veteran$celltype),
  chisq = sd4$chisq, observed = sd4$obs, expected = sd4$exp)

fits <- function(formula, data) lapply(c(weibull = "weibull", lognormal = "lognormal"), function(d) {
  f <- survreg(formula, data, dist = d, control = survreg.control(rel.tolerance = 1e-13, maxiter = 200))
  list(coefficients = unname(coef(f)), sigma = f$scale, logLik = f$loglik[2])
})
# Profile intervals by our own arithmetic in R on survreg's likelihood and on the density functions of stats.
profileSigma <- function(formula, data, dist) {
  f <- survreg(formula, data, dist = dist, control = survreg.control(rel.tolerance = 1e-13, maxiter = 200))
  gap <- function(ls) 2 * (f$loglik[2] - survreg(formula, data, dist = dist, scale = exp(ls),
    control = survreg.control(rel.tolerance = 1e-13, maxiter = 200))$loglik[2]) - qchisq(0.95, 1)
  c(exp(uniroot(gap, log(f$scale) + c(-1.5, 0), tol = 1e-12)$root), exp(uniroot(gap, log(f$scale) + c(0, 1.5), tol = 1e-12)$root))
}
profileLife <- function(time, status, share) {
  ll <- function(ls, q) { s <- exp(ls); shape <- 1 / s; scale <- exp(q - s * log(-log1p(-share)))
    sum(ifelse(status == 1, dweibull(time, shape, scale, log = TRUE), pweibull(time, shape, scale, lower.tail = FALSE, log.p = TRUE))) }
  f <- survreg(Surv(time, status) ~ 1, dist = "weibull")
  q0 <- unname(coef(f)) + f$scale * log(-log1p(-share))
  top <- f$loglik[2]
  gap <- function(q) 2 * (top - optimize(ll, c(-4, 4), q = q, maximum = TRUE, tol = 1e-12)$objective) - qchisq(0.95, 1)
  c(exp(q0), exp(uniroot(gap, c(q0 - 5, q0), tol = 1e-10)$root), exp(uniroot(gap, c(q0, q0 + 5), tol = 1e-10)$root))
}
out$amlFit <- fits(Surv(time, status) ~ 1, aml)
out$amlSigma <- list(weibull = profileSigma(Surv(time, status) ~ 1, aml, "weibull"),
  lognormal = profileSigma(Surv(time, status) ~ 1, aml, "lognormal"))
out$amlB10 <- profileLife(aml$time, aml$status, 0.1)
out$amlB50 <- profileLife(aml$time, aml$status, 0.5)

# Motorette insulation life, Nelson and Hahn (1972), as MASS carries it.
kt <- 8.617333262145179e-5
motors$x <- 1 / (kt * (motors$temp + 273.15))
out$motors <- list(temperature = motors$temp, time = motors$time, failed = motors$cens, fit = fits(Surv(time, cens) ~ x, motors),
  sigma = profileSigma(Surv(time, cens) ~ x, motors, "weibull"))
predicted <- predict(survreg(Surv(time, cens) ~ x, motors, dist = "weibull",
  control = survreg.control(rel.tolerance = 1e-13, maxiter = 200)), data.frame(x = 1 / (kt * (130 + 273.15))), type = "quantile", p = c(0.1, 0.5))
out$motors$at130 <- as.numeric(predicted)
out$motors$km <- lapply(c(170, 190, 220), function(t) steps(survfit(Surv(time, cens) ~ 1, motors[motors$temp == t, ], conf.type = "log-log")))

# Interval censoring: survival's lung times as seen at inspections every 90 days; a failure before the first is left censored.
low <- floor((lung$time - 1) / 90) * 90; high <- low + 90
l <- ifelse(lung$status == 2, low, lung$time); r <- ifelse(lung$status == 2, high, NA)
l2 <- ifelse(l == 0, NA, l)
inspected <- data.frame(l = l2, r = r)
tb <- survfit(Surv(l, r, type = "interval2") ~ 1, inspected, conf.type = "none")
out$inspected <- list(after = l, by = r, fit = fits(Surv(l, r, type = "interval2") ~ 1, inspected),
  turnbull = list(time = tb$time, survival = tb$surv))

# Lower ends of the repeats' deviation by profile likelihood (lme4).
out$repeatLow <- list(Pastes = unname(confint(pa, quiet = TRUE, parm = ".sigma")[1, 1]),
  Penicillin = unname(confint(pe, quiet = TRUE, parm = ".sigma")[1, 1]))

# Level and slope that differ between subjects (lme4).
sl <- lmer(Reaction ~ Days + (Days | Subject), sleepstudy, control = control)
vc <- as.data.frame(VarCorr(sl)); co <- coef(sl)$Subject
out$sleepstudy <- list(reaction = sleepstudy$Reaction, days = sleepstudy$Days, subject = as.character(sleepstudy$Subject),
  fixed = unname(fixef(sl)), sd = vc$sdcor[1:2], correlation = vc$sdcor[3], residual = vc$sdcor[4],
  names = rownames(co), levels = co[, 1], slopes = co[, 2])

# Competing causes (survival on MASS Melanoma: 1 died of it, 2 alive, 3 died of other causes).
me <- MASS::Melanoma
aj <- survfit(Surv(time, factor(ifelse(status == 2, 0, status), labels = c("alive", "melanoma", "other"))) ~ 1, me)
at <- c(500, 1000, 2000, 3000, 4000)
part <- summary(aj, times = at)$pstate
one <- function(cause) { f <- survreg(Surv(time, status == cause) ~ 1, me, dist = "weibull",
    control = survreg.control(rel.tolerance = 1e-13, maxiter = 200))
  list(location = unname(coef(f)), sigma = f$scale) }
out$melanoma <- list(time = me$time, status = me$status, at = at,
  melanoma = c(list(incidence = part[, 2]), one(1)), other = c(list(incidence = part[, 3]), one(3)))

# Late entry (survival): lung as if every line had come under observation after 0 to 160 days; Weibull by optim on the densities of stats.
lu <- data.frame(from = 40 * (seq_len(nrow(lung)) %% 5), to = lung$time, failed = as.integer(lung$status == 2), group = lung$sex)
lu <- lu[lu$to > lu$from, ]
kl <- survfit(Surv(from, to, failed) ~ 1, lu)
cl <- coxph(Surv(from, to, failed) ~ factor(group), lu, ties = "exact")
late <- function(p) with(lu, -sum(ifelse(failed == 1, dweibull(to, exp(p[1]), exp(p[2]), log = TRUE),
  pweibull(to, exp(p[1]), exp(p[2]), lower.tail = FALSE, log.p = TRUE)) - pweibull(from, exp(p[1]), exp(p[2]), lower.tail = FALSE, log.p = TRUE)))
fl <- optim(c(log(1.3), log(400)), late, method = "BFGS", control = list(reltol = 1e-15, maxit = 1000))
out$late <- list(from = lu$from, to = lu$to, failed = lu$failed, group = lu$group,
  km = list(time = kl$time, risk = kl$n.risk, survival = kl$surv), logRank = cl$score,
  shape = exp(fl$par[1]), scale = exp(fl$par[2]), logLikelihood = -fl$value)

# Score test of rates of failure in stretches of a Weibull life, parameters estimated: by numerical derivatives in R.
gof <- function(time, status) {
  f <- survreg(Surv(time, status) ~ 1, dist = "weibull", control = survreg.control(rel.tolerance = 1e-13, maxiter = 200))
  mu <- unname(coef(f)); ls <- log(f$scale)
  H <- function(t, m = mu, s = ls) exp((log(t) - m) / exp(s))
  h <- H(time); parts <- max(3, min(6, floor(sum(status) / 10)))
  edges <- sapply(seq_len(parts - 1), function(k) uniroot(function(e) sum(pmin(h, e)) - sum(h) * k / parts, c(0, max(h)), tol = 1e-13)$root)
  ends <- c(0, exp(mu + exp(ls) * log(edges)), Inf)
  bin <- findInterval(h, edges, left.open = TRUE) + 1
  ll <- function(p) {
    r <- p[-(1:2)]; v <- 0
    z <- (log(time) - p[1]) / exp(p[2])
    v <- sum(status * (z - log(time) - p[2] + r[bin]))
    for (b in seq_len(parts)) v <- v - exp(r[b]) * sum(H(pmin(time, ends[b + 1]), p[1], p[2]) - H(pmin(time, ends[b]), p[1], p[2]))
    v
  }
  p0 <- c(mu, ls, rep(0, parts)); d <- 1e-4
  u <- sapply(seq_along(p0), function(i) { e <- rep(0, length(p0)); e[i] <- d; (ll(p0 + e) - ll(p0 - e)) / (2 * d) })
  I <- -optimHess(p0, ll)
  a <- 1:2; b <- -(1:2)
  K <- I[b, b] - I[b, a] %*% solve(I[a, a]) %*% I[a, b]
  e <- eigen((K + t(K)) / 2, symmetric = TRUE); keep <- e$values > 0.02 * max(e$values)
  q <- t(e$vectors) %*% u[b]
  s <- sum(q[keep]^2 / e$values[keep])
  list(statistic = s, df = sum(keep), p = pchisq(s, sum(keep), lower.tail = FALSE))
}
fitted <- function(name, time, status) c(list(name = name, time = time, failed = status), gof(time, status))
out$fit <- list(fitted("veteran", veteran$time, veteran$status), fitted("ovarian", ovarian$futime, ovarian$fustat),
  fitted("lung", lung$time, lung$status - 1))

cat(toJSON(out, digits = I(16), auto_unbox = TRUE, na = "null"))
cat("\n")
